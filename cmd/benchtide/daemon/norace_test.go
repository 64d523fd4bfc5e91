//go:build !race

package daemon

// measurable reports whether what a program takes is the program's own.
const measurable = true
