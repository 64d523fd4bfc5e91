package sim

import (
	"cmp"
	"slices"
)

// basin turns litres on a table into depth, pots in place. A pot takes its
// section from the floor up to its own height, so depth is a broken line.
type basin struct {
	table float64 // m²
	knots []knot  // ordered by depth; the last one holds above it
}

// knot says that from depth upwards, reached with litres, the free area is area.
type knot struct{ depth, litres, area float64 }

// lay lists the knots for the pots that stand on the table now.
func (b *basin) lay(pots []potShape) {
	slices.SortFunc(pots, func(a, b potShape) int { return cmp.Compare(a.height, b.height) })
	free := b.table
	for _, p := range pots {
		free -= p.area
	}
	b.knots = append(b.knots[:0], knot{0, 0, free})
	for _, p := range pots {
		last := b.knots[len(b.knots)-1]
		litres := last.litres + (p.height-last.depth)*last.area*1000
		b.knots = append(b.knots, knot{p.height, litres, last.area + p.area})
	}
}

// potShape is what a batch takes from the table.
type potShape struct{ area, height float64 }

func (b *basin) depth(litres float64) float64 {
	if litres <= 0 {
		return 0
	}
	k := b.knots[0]
	for _, next := range b.knots[1:] {
		if litres < next.litres {
			break
		}
		k = next
	}
	return k.depth + (litres-k.litres)/(k.area*1000)
}
