//go:build !race

package main

// measurable reports whether what a program takes is the program's own.
const measurable = true
