package nature

import (
	"bufio"
	"cmp"
	_ "embed"
	"fmt"
	"hash/fnv"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Row is one thing that is drawn.
type Row struct {
	Name   string
	Unit   string // of the figures; 1 for a factor or a share
	Shape  Shape
	Low    float64 // where the span begins
	High   float64 // where it ends
	Source string  // of the span
	What   string  // is drawn, in words

	// With is another row whose rank, among its own figures, this one shares half
	// of; empty where it is drawn by itself.
	With string
}

// Shape is how figures lie within a span.
type Shape string

// The shapes. Uniform is even over the span; Peaked is highest in the middle of it
// and nothing at its ends; Normal has 19 of 20 figures in the span and none further
// out than its width from the middle; Skewed is the same on the scale of ratios, for
// what is above 0; Either is one end or the other.
const (
	Uniform Shape = "uniform"
	Peaked  Shape = "peaked"
	Normal  Shape = "normal"
	Skewed  Shape = "skewed"
	Either  Shape = "either"
)

// Nature is a table of rows. Its nil is Kind.
type Nature struct {
	Name string
	Rows []Row // in the order of the table
}

//go:embed wild.tsv
var wildTable string

//go:embed second.tsv
var secondTable string

// Kind is the plain bench: nothing is drawn.
func Kind() *Nature { return &Nature{Name: "kind"} }

// Wild is a bench as one builds it.
func Wild() *Nature { return shipped("wild", wildTable) }

// Second has other shapes than Wild, and things that go together.
func Second() *Nature { return shipped("second", secondTable) }

func shipped(name, table string) *Nature {
	n, err := Read(name, strings.NewReader(table))
	if err != nil {
		panic(err) // a table of the program's own
	}
	return n
}

// Shipped are the natures that are here, by name.
var Shipped = map[string]func() *Nature{"kind": Kind, "wild": Wild, "second": Second}

// columns are those of a table, in this order, with a tab between.
var columns = []string{"name", "unit", "shape", "low", "high", "with", "source", "what"}

// Read reads a table: a line of the columns' names, and one for each row. Lines
// that begin with # and empty ones say nothing. A row that nothing reads, a span
// that cannot be and a figure that is none are errors with their line.
func Read(name string, r io.Reader) (*Nature, error) {
	n := &Nature{Name: name}
	lines := bufio.NewScanner(r)
	head := false
	for at := 1; lines.Scan(); at++ {
		line := strings.TrimRight(lines.Text(), "\r")
		if strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if !head {
			if head = line == strings.Join(columns, "\t"); !head {
				return nil, fmt.Errorf("%s:%d: %q: the first line names the columns, with a tab between: %s", name, at, line, strings.Join(columns, " "))
			}
			continue
		}
		row, err := n.row(strings.Split(line, "\t"))
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, at, err)
		}
		n.Rows = append(n.Rows, row)
	}
	if err := cmp.Or(lines.Err(), n.tied()); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return n, nil
}

// row reads one, and refuses what cannot be drawn.
func (n *Nature) row(cells []string) (Row, error) {
	if len(cells) != len(columns) {
		return Row{}, fmt.Errorf("%d cells: a row has %d, with a tab between", len(cells), len(columns))
	}
	r := Row{Name: cells[0], Unit: cells[1], Shape: Shape(cells[2]), With: cells[5], Source: cells[6], What: cells[7]}
	known, ok := bounds[r.Name]
	if !ok {
		return r, fmt.Errorf("%q: nothing reads that; there are %s", r.Name, strings.Join(Names(), ", "))
	}
	if n.find(r.Name) != nil {
		return r, fmt.Errorf("%q stands here twice: keep one of the two", r.Name)
	}
	if !slices.Contains([]Shape{Uniform, Peaked, Normal, Skewed, Either}, r.Shape) {
		return r, fmt.Errorf("%s: shape %q: write uniform, peaked, normal, skewed or either", r.Name, r.Shape)
	}
	if r.Unit != known.unit {
		return r, fmt.Errorf("%s: unit %q: it is drawn in %s", r.Name, r.Unit, known.unit)
	}
	for i, to := range []*float64{&r.Low, &r.High} {
		f, err := strconv.ParseFloat(cells[3+i], 64)
		if err != nil || math.IsNaN(f) {
			return r, fmt.Errorf("%s: %s %q: write a number", r.Name, columns[3+i], cells[3+i])
		}
		*to = f
	}
	most, least := r.reach()
	switch {
	case r.Low > r.High:
		return r, fmt.Errorf("%s: the span from %g to %g: it begins with the smaller one", r.Name, r.Low, r.High)
	case r.Shape == Skewed && r.Low <= 0:
		return r, fmt.Errorf("%s: a skewed span begins above 0, not at %g", r.Name, r.Low)
	case least < known.low || most > known.high:
		return r, fmt.Errorf("%s: it may come to %.3g or %.3g: all of it lies between %g and %g", r.Name, least, most, known.low, known.high)
	case r.Source == "":
		return r, fmt.Errorf("%s: say where its span comes from, or \"common practice, no source\"", r.Name)
	}
	return r, nil
}

// tied holds each With to a row that is there and is drawn by itself.
func (n *Nature) tied() error {
	for _, r := range n.Rows {
		if r.With == "" {
			continue
		}
		if to := n.find(r.With); to == nil || to.With != "" || to.Name == r.Name {
			return fmt.Errorf("%s: with %q: name another row that is drawn by itself", r.Name, r.With)
		}
	}
	return nil
}

func (n *Nature) find(name string) *Row {
	if n == nil {
		return nil
	}
	i := slices.IndexFunc(n.Rows, func(r Row) bool { return r.Name == name })
	if i < 0 {
		return nil
	}
	return &n.Rows[i]
}

// Draws are what a seed draws from a nature.
type Draws struct {
	nature *Nature
	seed   uint64
}

// Draw draws for a seed. Each figure hangs on seed, row and index alone, never on
// what else was asked for.
func (n *Nature) Draw(seed uint64) Draws { return Draws{n, seed} }

// Of is the figure of a row for the bench, reservoir, batch or run of that number:
// the plain one where the nature has no such row.
func (d Draws) Of(name string, i int) float64 {
	r := d.nature.find(name)
	if r == nil {
		return bounds[name].plain
	}
	rank := d.Rank(r.Name, i)
	if r.With != "" {
		rank = halfOf(rank, d.Rank(r.With, i))
	}
	return r.at(rank)
}

// Rank draws evenly from 0 to 1.
func (d Draws) Rank(name string, i int) float64 {
	h := fnv.New64a()
	_, _ = fmt.Fprintf(h, "%d %s %d", d.seed, name, i)
	// A finaliser, since FNV mixes the last bytes into the low bits alone.
	x := h.Sum64()
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return (float64((x^x>>31)>>11) + 0.5) / (1 << 53)
}

// halfOf is the rank of the sum of two even draws: even again, and correlated with
// each of them by 0.7.
func halfOf(a, b float64) float64 {
	s := a + b
	if s <= 1 {
		return s * s / 2
	}
	return 1 - (2-s)*(2-s)/2
}

// at is the figure of a rank.
func (r *Row) at(rank float64) float64 {
	width := r.High - r.Low
	switch r.Shape {
	case Peaked:
		if rank < 0.5 {
			return r.Low + width*math.Sqrt(rank/2)
		}
		return r.High - width*math.Sqrt((1-rank)/2)
	case Normal:
		return (r.Low+r.High)/2 + width*deviates(rank)
	case Skewed:
		return math.Sqrt(r.Low*r.High) * math.Pow(r.High/r.Low, deviates(rank))
	case Either:
		if rank < 0.5 {
			return r.Low
		}
		return r.High
	}
	return r.Low + width*rank
}

// deviates is how far a normal figure of that rank lies from its middle, in widths
// of the span that holds 19 of 20, at most 1.
func deviates(rank float64) float64 {
	const widths = 2 * 1.959964 // of one standard deviation in that span
	return max(-1, min(1, math.Sqrt2*math.Erfinv(2*rank-1)/widths))
}

// reach is the most and the least that a row may come to.
func (r *Row) reach() (most, least float64) { return r.at(1 - 1e-16), r.at(1e-300) }
