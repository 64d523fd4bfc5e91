// Package config reads the file that describes a site: its board and wiring,
// reservoirs and benches, plans and batches. Parse refuses what it does not
// know and what cannot work, notes every problem at once with its place and
// what would be right, and returns a Site that the rest of the program can
// trust: from it come the guard's limits, the calendar and the bench sheets.
package config

import (
	_ "embed"
	"regexp"

	"benchtide/controller/quantity"
	"benchtide/schedule"
)

// Example is a complete file, used where none is given.
//
//go:embed example.yaml
var Example []byte

// Parse reads the file called name with content data. The site is nil exactly
// when there are errors; without errors the problems are warnings.
func Parse(name string, data []byte) (*Site, Problems) {
	return ParseOn(name, data, 0)
}

// ParseOn is Parse on a day, which tells of batches whose years cannot be right;
// 0 is a day that nobody knows.
func ParseOn(name string, data []byte, today schedule.Date) (*Site, Problems) {
	r, site := read(name, data)
	if site != nil {
		r.check(site)
		r.checkToday(site, today)
		site.warning = r.warning
		site.newer = func() Problems { return r.newer(site) }
	}
	r.problems.sort()
	if r.problems.Err() != nil {
		return nil, r.problems
	}
	return site, r.problems
}

// Wiring reads the same file and leaves out whether it can work, which is most
// of the time that Parse takes. Of the site only what is written in the file
// may be used, such as outputs and switches; no limits, calendar or sheet.
func Wiring(name string, data []byte) (*Site, error) {
	r, site := read(name, data)
	r.problems.sort()
	if err := r.problems.Err(); err != nil {
		return nil, err
	}
	return site, nil
}

// UnitsOf is in which units people read a site, as far as its file can be read: it
// looks for nothing but the key.
func UnitsOf(data []byte) quantity.Units {
	if usUnits.Match(data) {
		return quantity.US
	}
	return quantity.Metric
}

var usUnits = regexp.MustCompile(`(?m)^[^#\n]*\bunits: *["']?us\b`)

// read returns the site as written, nil when the file is no YAML, and the
// reader with what it noted.
func read(name string, data []byte) (*reader, *Site) {
	r := &reader{file: name, positions: map[string]position{}, units: UnitsOf(data)}
	top, ok := r.document(data)
	if !ok {
		return r, nil
	}
	return r, r.site(top)
}
