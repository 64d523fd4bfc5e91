package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing wrong with a file, or a warning about it.
type Problem struct {
	File         string
	Line, Column int // both from 1
	Text         string
	Warning      bool
}

func (p Problem) String() string {
	kind := ""
	if p.Warning {
		kind = "warning: "
	}
	return fmt.Sprintf("%s:%d:%d: %s%s", p.File, p.Line, p.Column, kind, p.Text)
}

// Problems are all that was found, in order of the file.
type Problems []Problem

// Error prints the problems, one a line.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// Errors returns the problems that make a file unfit for use.
func (ps Problems) Errors() Problems { return ps.only(false) }

// Warnings returns the problems that a person may accept.
func (ps Problems) Warnings() Problems { return ps.only(true) }

func (ps Problems) only(warning bool) (some Problems) {
	for _, p := range ps {
		if p.Warning == warning {
			some = append(some, p)
		}
	}
	return some
}

// Err returns the errors as one error; nil when there are none.
func (ps Problems) Err() error {
	if errs := ps.Errors(); len(errs) > 0 {
		return errs
	}
	return nil
}

func (ps Problems) sort() {
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}

// Doubt is a warning about batch i of a site whose file was checked, for those who
// reckon with more than the file says.
func (s *Site) Doubt(batch int, text string) Problem {
	return s.warning(batchPath(batch, ""), text)
}
