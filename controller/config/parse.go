// Package config reads the file that describes a site: its board and wiring,
// reservoirs and benches, plans and batches. Parse refuses what it does not
// know and what cannot work, notes every problem at once with its place and
// what would be right, and returns a Site that the rest of the program can
// trust: from it come the guard's limits, the calendar and the bench sheets.
package config

import (
	_ "embed"
)

// Example is a complete file, used where none is given.
//
//go:embed example.yaml
var Example []byte

// Parse reads the file called name with content data. The site is nil exactly
// when there are errors; without errors the problems are warnings.
func Parse(name string, data []byte) (*Site, Problems) {
	r := &reader{file: name, places: map[string]place{}}
	var site *Site
	if top, ok := r.document(data); ok {
		site = r.site(top)
		r.check(site)
	}
	r.problems.sort()
	if r.problems.Err() != nil {
		return nil, r.problems
	}
	return site, r.problems
}
