package main

import (
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// weighed are the numbers of a package and what became of each.
type weighed struct {
	dir     string
	changes []change
	figures []figure
}

// write writes a section: how many numbers move an answer by more than 1 %, how many
// of those that have a source are noticed, and a table of those that are not and of
// those that have none. A number has a source unless without says what else stands for
// it; what is said there of a number that is gone, or moves nothing, is told of on stderr.
func (d *weighed) write(w io.Writer, without map[string]string) error {
	var b strings.Builder
	var any, moving, sourced, noticed int
	needless := maps.Clone(without)
	for i, f := range d.figures {
		c := &d.changes[i]
		if f.more && f.less {
			any++
		}
		if !f.decides() {
			continue
		}
		moving++
		delete(needless, c.key())
		why, none := without[c.key()]
		if !none {
			why = "has a source"
			sourced++
			if f.more && f.less {
				noticed++
				continue
			}
		}
		b.WriteString(f.row(c, why))
	}
	for _, key := range slices.Sorted(maps.Keys(needless)) {
		if filepath.Dir(strings.SplitN(key, "\t", 2)[0]) == d.dir {
			fmt.Fprintf(os.Stderr, "gone, or moves nothing: %s\n", key)
		}
	}
	_, err := fmt.Fprintf(w, "## %s\n\n%d numbers, %d noticed both ways. %d move an answer by more than 1 %%: %d have a source, and\n%d of these are noticed both ways; %d have none.\n",
		d.dir, len(d.changes), any, moving, sourced, noticed, moving-sourced)
	if err == nil && b.Len() > 0 {
		_, err = io.WriteString(w, "\n| where | number | in | stands on | noticed at 3 % | both ways from | moves | most |\n|---|---|---|---|---|---|---|---|\n"+b.String())
	}
	return err
}

// row is a number in the table.
func (f figure) row(c *change, why string) string {
	by, from := map[[2]bool]string{{false, false}: "no", {true, false}: "more", {false, true}: "less", {true, true}: "yes"}[[2]bool{f.more, f.less}], "none"
	if f.from > 0 {
		from = fmt.Sprintf("%.0f %%", 100*f.from)
	}
	number, _, _ := strings.Cut(c.what, " → ")
	return fmt.Sprintf("| %s:%d | `%s` | `%s` | %s | %s | %s | %.1f %% | %s |\n", filepath.Base(c.file), c.line, cell(number), cell(c.text), why, by, from, 100*f.moves, f.which)
}
