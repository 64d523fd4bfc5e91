package sim

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"benchtide/hw/sim/nature"
)

// Nature is what a world draws its own figures from. Its nil is the plain bench.
type Nature = nature.Nature

// Natures are the names of those that are here.
func Natures() []string { return slices.Sorted(maps.Keys(nature.Shipped)) }

// NatureNamed is the one of that name.
func NatureNamed(name string) (*Nature, error) {
	n, ok := nature.Shipped[name]
	if !ok {
		return nil, fmt.Errorf("%q: write %s", name, strings.Join(Natures(), ", "))
	}
	return n(), nil
}

// ReadNature reads the table of another one.
func ReadNature(name string, r io.Reader) (*Nature, error) { return nature.Read(name, r) }

// NatureText is the table of a nature for people: what is drawn, from where to
// where, and what says so.
func NatureText(n *Nature) string {
	var b strings.Builder
	for _, r := range n.Rows {
		unit := ""
		if r.Unit != "1" {
			unit = " " + r.Unit
		}
		fmt.Fprintf(&b, "%-16s %g to %g%s, %s", r.Name, r.Low, r.High, unit, r.Shape)
		if r.With != "" {
			fmt.Fprintf(&b, ", with %s", r.With)
		}
		fmt.Fprintf(&b, "\n    %s\n    %s\n", r.What, r.Source)
	}
	return b.String()
}
