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

// results are what came of the changes of the package in the first of dirs.
type results struct {
	dirs    []string
	all     int
	tried   []change
	noticed []int // by the tests of which of dirs, or nobody
}

// write writes them for deploy/MUTATION.md. An argument for a change that is
// noticed, or is no more, is told of on stderr: nobody needs it any longer.
func (r *results) write(w io.Writer, why map[string]string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "## %s\n\n", r.dirs[0])
	own, others, lived := r.count(0), 0, r.count(nobody)
	for i := 1; i < len(r.dirs); i++ {
		others += r.count(i)
	}
	fmt.Fprintf(&b, "%d of %d changes noticed, %s", own+others, len(r.tried), r.share(own+others))
	if others > 0 {
		fmt.Fprintf(&b, "; %d of them, %s, by its own tests, the others by those of\n%s", own, r.share(own), strings.Join(r.dirs[1:], " and "))
	}
	if len(r.tried) < r.all {
		fmt.Fprintf(&b, "; a sample of %d", r.all)
	}
	b.WriteString(".\n")
	if lived > 0 {
		b.WriteString("\n| where | change | in | why it may live |\n|---|---|---|---|\n")
	}
	needless := maps.Clone(why)
	for i, c := range r.tried {
		if r.noticed[i] == nobody {
			b.WriteString(c.row(why))
			delete(needless, c.key())
		}
	}
	for _, key := range slices.Sorted(maps.Keys(needless)) {
		if len(r.tried) == r.all && filepath.Dir(strings.SplitN(key, "\t", 2)[0]) == r.dirs[0] {
			fmt.Fprintf(os.Stderr, "argued, and noticed or gone: %s\n", key)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// count is how many changes the tests of a package were the first to notice.
func (r *results) count(by int) (n int) {
	for _, i := range r.noticed {
		if i == by {
			n++
		}
	}
	return n
}

func (r *results) share(n int) string {
	return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(max(len(r.tried), 1)))
}

func (c *change) key() string { return c.file + "\t" + c.text + "\t" + c.what }

// row is the change as a survivor.
func (c *change) row(why map[string]string) string {
	reason := why[c.key()]
	if reason == "" {
		reason = "not argued"
	}
	return fmt.Sprintf("| %s:%d | `%s` | `%s` | %s |\n", filepath.Base(c.file), c.line, cell(c.what), cell(c.text), reason)
}

// cell is text that a table can hold.
func cell(s string) string { return strings.ReplaceAll(s, "|", "\\|") }
