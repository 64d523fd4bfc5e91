// Package quantity turns what a person writes, a number and its unit, into a
// value of one type for each kind of quantity, and prints it again in a unit
// of choice. Metric and US customary units are both at home.
//
// Inside the program a quantity is a float in the base unit its type names
// (metres, litres, litres per hour, degrees Celsius) or a time.Duration, so
// no other package deals in units.
package quantity

import (
	"errors"
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

// Unit is one unit of a quantity: n of it are Zero + n·Size in the base unit.
type Unit[Q ~float64] struct {
	Symbol  string
	Size    Q
	Zero    Q // not zero for temperatures alone
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
	right  string // what would be right, as an example
	signed bool
	units  []Unit[Q]
}

func (k kind[Q]) parse(text string) (Q, error) {
	n, symbol, err := split(text)
	if err != nil {
		return 0, fmt.Errorf("%q: %w: %s is written like %s", text, err, k.noun, k.right)
	}
	if symbol == "" {
		return 0, fmt.Errorf("%q: %s needs a unit: %s", text, k.noun, k.right)
	}
	for _, u := range k.units {
		if u.called(symbol) {
			return k.bounded(text, u.Zero+Q(n)*u.Size)
		}
	}
	return 0, fmt.Errorf("%q: %q is no unit of %s: %s", text, symbol, k.noun, k.right)
}

func (k kind[Q]) bounded(text string, q Q) (Q, error) {
	if q < 0 && !k.signed {
		return 0, fmt.Errorf("%q: %s cannot be below zero: %s", text, k.noun, k.right)
	}
	if math.IsInf(float64(q), 0) {
		return 0, fmt.Errorf("%q: %s as large as that cannot be right: %s", text, k.noun, k.right)
	}
	return q, nil
}

// split parts a number from the unit that follows it. It takes plain decimal
// numbers only: no exponents, which would swallow the start of a unit.
func split(text string) (n float64, symbol string, err error) {
	text = strings.TrimSpace(text)
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("+-.0123456789", r) })
	if end < 0 {
		end = len(text)
	}
	if end == 0 {
		return 0, "", errors.New("no number at the start")
	}
	if text[end:] != "" && text[end] == ',' {
		return 0, "", errors.New("decimals take a point, not a comma")
	}
	n, err = strconv.ParseFloat(text[:end], 64)
	if err != nil {
		return 0, "", fmt.Errorf("%q is not a number", text[:end])
	}
	return n, strings.Join(strings.Fields(text[end:]), " "), nil
}
