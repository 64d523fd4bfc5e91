package reference

import (
	"fmt"
	"strings"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
)

// Page is the reference of all keys in Markdown.
func Page() string {
	var b strings.Builder
	b.WriteString(`# The file, key by key

This page is written by ` + "`benchtide explain --markdown`" + `. A part of a key in
capitals stands for a name of your own, or for the place in a list.
` + "`benchtide explain KEY`" + ` tells the same of one key, ` + "`man benchtide.yaml`" + ` of all, and
an editor that knows JSON Schema marks mistakes while you write: give it the
output of ` + "`benchtide explain --schema`" + `, or begin the file with
` + "`# yaml-language-server: $schema=/usr/share/benchtide/bench.schema.json`" + `.

`)
	b.WriteString(Units(quantity.Metric))
	for _, k := range config.Keys() {
		if !strings.Contains(k.Path, ".") {
			fmt.Fprintf(&b, "\n## %s\n", k.Path)
		} else {
			fmt.Fprintf(&b, "\n### %s\n", k.Path)
		}
		b.WriteString("\n" + strings.Join(about(k, quantity.Metric), " ") + "\n")
		fmt.Fprintf(&b, "\n```yaml\n%s\n```\n", example(k, quantity.Metric))
	}
	return b.String()
}

// Units lists the units of each kind of quantity, with examples for people who read
// these.
func Units(u quantity.Units) string {
	var b strings.Builder
	for _, w := range written {
		var symbols []string
		for _, unit := range w.Units {
			symbols = append(symbols, unit.Symbols[0])
		}
		such := w.Example
		if u == quantity.US {
			such = w.Examples(u)
		}
		fmt.Fprintf(&b, "- %s: %s; such as %s\n", w.Noun, strings.Join(symbols, ", "), such)
	}
	b.WriteString(`
Numbers have a decimal point, or are fractions: 1.25 in, 1/4 in, 1 1/4 in. Parts of
lengths, volumes and times add up, the larger unit first: 7 ft 6 in, 1 gal 2 qt,
1 h 30 min. Gallons, quarts, pints and fluid ounces are the US liquid ones.
`)
	return b.String()
}

// Manual is the manual page benchtide.yaml(5) in roff.
func Manual() string {
	var b strings.Builder
	b.WriteString(`.TH BENCHTIDE.YAML 5 "" benchtide "File formats"
.SH NAME
benchtide.yaml \- the file that describes a site to benchtide
.SH DESCRIPTION
The file is YAML. Every quantity carries its unit, and unknown keys are refused.
.B benchtide check
tells what is wrong with a file and what its numbers come to.
.B benchtide explain
tells of one key what stands below of all.
A part of a key in capitals stands for a name of your own, or for the place in a list.
.SH UNITS
`)
	for _, w := range written {
		var symbols []string
		for _, u := range w.Units {
			symbols = append(symbols, u.Symbols[0])
		}
		fmt.Fprintf(&b, ".TP\n%s\n%s; such as %s\n", roff(w.Noun), roff(strings.Join(symbols, ", ")), roff(w.Example))
	}
	b.WriteString(`.PP
Numbers have a decimal point, or are fractions. Parts of lengths, volumes and times
add up, the larger unit first. Gallons, quarts, pints and fluid ounces are the US
liquid ones.
.SH KEYS
`)
	for _, k := range config.Keys() {
		fmt.Fprintf(&b, ".TP\n.B %s\n", roff(k.Path))
		for i, line := range about(k, quantity.Metric) {
			if i > 0 {
				b.WriteString(".br\n")
			}
			b.WriteString(roff(line) + "\n")
		}
		b.WriteString(".RS\n.PP\n.EX\n" + roff(example(k, quantity.Metric)) + "\n.EE\n.RE\n")
	}
	b.WriteString(`.SH FILES
.TP
.I /etc/benchtide/bench.yaml
the site of the service
.TP
.I /usr/share/benchtide/bench.schema.json
the same description as a JSON Schema, for editors
`)
	return b.String()
}

// roff spells out what roff would read as its own.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, `"`, `\(dq`, "~", `\(ti`, "^", `\(ha`,
		"…", `\&...`, "°", `\(de`, "⁄", "/").Replace(text)
	lines := strings.Split(text, "\n")
	for i := range lines {
		if strings.HasPrefix(lines[i], ".") {
			lines[i] = `\&` + lines[i]
		}
	}
	return strings.Join(lines, "\n")
}
