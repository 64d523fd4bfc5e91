package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// weighed are the numbers of a package and what became of each.
type weighed struct {
	dir     string
	changes []change
	figures []figure
}

// rule says what the numbers in a line of a file stand on in place of a source.
type rule struct{ file, line, on string }

// sourced is what a number stands on of which no rule says anything else.
const sourced = "a source"

// readRules reads a file of rules, three cells each, parted by tabs: the file, what its
// line holds, and what stands for a source. The first that fits counts.
func readRules(name string) (rules []rule, err error) {
	text, err := os.ReadFile(name)
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.TrimSpace(line), "\t")
		if len(cells) != 3 {
			return nil, fmt.Errorf("%s: %q has %d cells and needs three", name, line, len(cells))
		}
		rules = append(rules, rule{cells[0], cells[1], cells[2]})
	}
	return rules, err
}

func stands(c *change, rules []rule) string {
	line := strings.NewReplacer("⟦", "", "⟧", "").Replace(c.text)
	for _, r := range rules {
		if r.file == c.file && strings.Contains(line, r.line) {
			return r.on
		}
	}
	return sourced
}

// write writes a section: how many numbers move an answer by more than 1 %, how many
// of those that have a source are noticed, and a table of those that are not and of
// those that have none. A number has a source unless without says what else stands for
// it; what is said there of a number that is gone, or moves nothing, is told of on stderr.
func (d *weighed) write(w io.Writer, without []rule) error {
	var b strings.Builder
	var any, moving, sources, noticed int
	for i, f := range d.figures {
		c := &d.changes[i]
		if f.more && f.less {
			any++
		}
		if !f.decides() {
			continue
		}
		moving++
		why := stands(c, without)
		if why == sourced {
			sources++
			if f.more && f.less {
				noticed++
				continue
			}
		}
		b.WriteString(f.row(c, why))
	}
	_, err := fmt.Fprintf(w, "## %s\n\n%d numbers, %d noticed both ways. %d move an answer by more than 1 %%: %d have a source, and\n%d of these are noticed both ways; %d have none.\n",
		d.dir, len(d.changes), any, moving, sources, noticed, moving-sources)
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
