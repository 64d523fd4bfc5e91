// Package quantity turns what a person writes, a number and its unit, into a
// value of one type for each kind of quantity, and prints it again in a unit
// of choice. Metric and US customary units are both at home. Numbers are decimal
// or fractions, and lengths, volumes and times may have parts of falling size:
// "1 1/4 in", "7 ft 6 in", "1 h 30 min".
//
// Inside the program a quantity is a float in the base unit its type names
// (metres, litres, litres per hour, degrees Celsius) or a time.Duration, so
// no other package deals in units.
package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Metres is a length.
type Metres float64

// SquareMetres is an area.
type SquareMetres float64

// Litres is a volume.
type Litres float64

// LitresPerHour is a flow.
type LitresPerHour float64

// Celsius is a temperature.
type Celsius float64

// Fraction is a part of one: 0.25 is 25 %.
type Fraction float64

// seconds are a length of time while it is read.
type seconds float64

// Unit is one unit of a quantity: n of it are Zero + n·Size in the base unit.
type Unit[Q ~float64] struct {
	Symbol  string
	Size    Q
	Zero    Q    // not zero for temperatures alone
	US      bool // a unit of US customary measure
	aliases []string
}

// In prints q in the unit u to at most four significant digits, as in "30 mm".
func In[Q ~float64](q Q, u Unit[Q]) string {
	return number(float64((q-u.Zero)/u.Size)) + " " + u.Symbol
}

func number(n float64) string {
	if a := math.Abs(n); a >= 1000 && a < 1e15 {
		return strconv.FormatFloat(n, 'f', 0, 64)
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(n, 'g', 4, 64), 64)
	if err != nil {
		rounded = n
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

func (u Unit[Q]) called(symbol string) bool {
	if symbol == u.Symbol {
		return true
	}
	for _, a := range u.aliases {
		if strings.EqualFold(symbol, a) {
			return true
		}
	}
	return strings.EqualFold(symbol, u.Symbol)
}

// kind is one kind of quantity, with the units a person may write it in.
type kind[Q ~float64] struct {
	noun   string // "a length"
	right  right
	signed bool
	adds   bool // parts of falling size add up
	units  []Unit[Q]
}

func (k kind[Q]) parse(text string) (Q, error) { return k.read(text, nil) }

// read reads a quantity; a number alone has the bare unit, where there is one.
func (k kind[Q]) read(text string, bare *Unit[Q]) (Q, error) {
	q, err := k.sum(text, bare)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", text, err)
	}
	return q, nil
}

// right is what would be right, as examples: in either measure, in metric units and
// in US units.
type right struct{ either, metric, us string }

func same(text string) right { return right{text, text, text} }

func (r right) in(u Units) string {
	if u == US {
		return r.us
	}
	return r.metric
}

// lacking is an error that says what would be right.
func (k kind[Q]) lacking(format string, args ...any) error {
	said := fmt.Sprintf(format, args...)
	return &Mistake{said + k.right.either, func(u Units) string { return said + k.right.in(u) }}
}

// Written are the units of one kind of quantity as a person may write them.
type Written struct {
	Noun, Example string
	Signed, Adds  bool
	right         right
	Units         []Spelling // the largest of a system of units last
}

// Examples are how such quantities are written in one measure.
func (w Written) Examples(u Units) string { return w.right.in(u) }

// Spelling is how one unit is written: its symbol, then what else is taken for
// it, in letters of any size.
type Spelling struct {
	Symbols []string
	US      bool
}

func (k kind[Q]) written() Written {
	w := Written{Noun: k.noun, Example: k.right.either, Signed: k.signed, Adds: k.adds, right: k.right}
	for _, u := range k.units {
		w.Units = append(w.Units, Spelling{append([]string{u.Symbol}, u.aliases...), u.US})
	}
	return w
}
