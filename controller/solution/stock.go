package solution

import (
	"cmp"
	"errors"
	"fmt"

	"benchtide/controller/quantity"
)

// Part is one concentrate, or one dry salt, of a stock.
type Part struct {
	Name string
	Dose float64 // in a litre of solution at full strength, in Unit
	Unit string  // "mL" or "g"
}

// Stock is what a solution is made of: one concentrate or several that are
// added one after another, each stirred in before the next.
type Stock struct {
	Parts []Part
	Adds  EC // what the full dose adds to the water's EC by the grower's meter; 0 if not measured
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
		if p.Unit != "mL" && p.Unit != "g" {
			return fmt.Errorf("dose of %q in %q: write mL or g a litre", p.Name, p.Unit)
		}
		if err := above(fmt.Sprintf("dose of %q", p.Name), p.Dose, 500, p.Unit+" a litre"); err != nil {
			return err
		}
	}
	return between("EC that the full dose adds", s.Adds, 0, strongest, "mS/cm")
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

// Reach is what to add of each part, in order, to bring a volume from one EC to
// a higher one, by what the full dose was seen to add. The volume of the parts
// themselves is not counted.
func (s Stock) Reach(v quantity.Litres, from, to EC) ([]Amount, error) {
	err := cmp.Or(working("EC now", from), working("EC wanted", to))
	switch {
	case err != nil:
	case s.Adds == 0:
		err = errors.New("what the full dose adds is not known: mix one litre at full strength and measure it")
	case to < from:
		err = fmt.Errorf("the EC wanted, %.4g mS/cm, is below that of now, %.4g: dilute instead", to, from)
	}
	if err != nil {
		return nil, mixed("dose", err)
	}
	return s.Dose(v, quantity.Fraction((to-from)/s.Adds))
}

// Calibrated is the stock with what its full dose adds, from a trial mix: water
// of one EC showed another after a part of the full dose.
func (s Stock) Calibrated(strength quantity.Fraction, water, showed EC) (Stock, error) {
	err := cmp.Or(s.check(), above("strength of the trial", 100*strength, 200, "%"),
		working("EC of the water", water), working("EC of the trial", showed))
	if err == nil && showed <= water {
		err = fmt.Errorf("the trial shows %.4g mS/cm, not more than its water, %.4g: stir and measure again", showed, water)
	}
	if err != nil {
		return Stock{}, mixed("calibrate", err)
	}
	s.Adds = (showed - water) / EC(strength)
	return s, nil
}
