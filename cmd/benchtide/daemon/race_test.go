//go:build race

package daemon

// measurable reports whether what a program takes is the program's own: the
// race detector takes several times that for itself.
const measurable = false
