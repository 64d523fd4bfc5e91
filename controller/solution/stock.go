package solution

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"benchtide/controller/quantity"
)

// Part is one concentrate, or one dry salt, of a stock.
type Part struct {
	Name string
	Dose float64 // in a litre of solution at full strength, in Unit
	Unit string  // one of Doses
}

// Doses are the units of a dose, as labels have them.
var Doses = []string{"mL", "g", "tsp", "fl oz"}

// Stock is what a solution is made of: one concentrate or several that are
// added one after another, each stirred in before the next.
type Stock struct {
	Parts []Part
}

// Amount is how much of one part to add.
type Amount struct {
	Part  string  `json:"part"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

func (s Stock) check() error {
	if len(s.Parts) == 0 {
		return errors.New("a stock has at least one part: its name and the dose on its label")
	}
	for _, p := range s.Parts {
		if !slices.Contains(Doses, p.Unit) {
			return fmt.Errorf("dose of %q in %q: write mL, g, tsp or fl oz a litre or a gallon", p.Name, p.Unit)
		}
		if err := above(fmt.Sprintf("dose of %q", p.Name), p.Dose, 500, p.Unit+" a litre"); err != nil {
			return err
		}
	}
	return nil
}

// Dose is what to add of each part, in order, to make a volume of water into
// solution of a part of full strength by the label.
func (s Stock) Dose(v quantity.Litres, strength quantity.Fraction) ([]Amount, error) {
	if err := cmp.Or(s.check(), tank(v), between("strength", 100*strength, 0, 200, "%")); err != nil {
		return nil, mixed("dose", err)
	}
	amounts := make([]Amount, len(s.Parts))
	for i, p := range s.Parts {
		amounts[i] = Amount{p.Name, p.Dose * float64(v) * float64(strength), p.Unit}
	}
	return amounts, nil
}
