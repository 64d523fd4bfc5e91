// Package reference tells what the file's keys are, from their descriptions in
// config alone: one key in words for a person who asks, all of them as a page
// and as a manual page, and as a JSON Schema, which lets an editor mark what is
// wrong while it is written.
//
// A schema judges the shape of a file and the spelling of its values. What
// several values come to together, which names there are and how large a
// quantity may be are for the reader to judge.
package reference
