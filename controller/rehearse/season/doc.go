// Package season draws a rehearsal: one page with pictures of its floods, of the
// water on tables, in reservoirs and in pots, of fill and fall times, and of
// what the guard did. A Recorder takes the samples while the rehearsal plays,
// Write makes the page of them and of the report.
package season
