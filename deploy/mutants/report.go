package main

import (
	"fmt"
	"io"
	"strings"
)

// report writes what came of a package, for deploy/MUTATION.md.
func report(w io.Writer, dir string, all, tried int, lived []change, why map[string]string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "## %s\n\n", dir)
	fmt.Fprintf(&b, "%d of %d changes noticed, %.1f %%", tried-len(lived), tried, 100*float64(tried-len(lived))/float64(max(tried, 1)))
	if tried < all {
		fmt.Fprintf(&b, "; a sample of %d", all)
	}
	b.WriteString(".\n")
	if len(lived) > 0 {
		b.WriteString("\n| where | change | in | why it may live |\n|---|---|---|---|\n")
	}
	for _, c := range lived {
		reason := why[c.file+"\t"+c.text+"\t"+c.what]
		if reason == "" {
			reason = "not argued"
		}
		fmt.Fprintf(&b, "| %s:%d | `%s` | `%s` | %s |\n", c.file, c.line, cell(c.what), cell(c.text), reason)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// cell is text that a table can hold.
func cell(s string) string { return strings.ReplaceAll(s, "|", "\\|") }
