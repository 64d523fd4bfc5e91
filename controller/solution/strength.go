package solution

import (
	"cmp"
	"fmt"

	"benchtide/controller/quantity"
)

// EC is electrical conductivity at 25 °C in mS/cm.
type EC float64

// Raise is the stock to add to a volume at one strength to bring it to a
// higher one: V·(to − from)/(stock − to), from a balance of salts.
func Raise(v quantity.Litres, from, to, stock EC) (quantity.Litres, error) {
	err := cmp.Or(tank(v), working("EC now", from), working("EC wanted", to), above("EC of the stock", stock, densest, "mS/cm"))
	switch {
	case err != nil:
	case to < from:
		err = fmt.Errorf("the EC wanted, %.4g mS/cm, is below that of now, %.4g: dilute instead", to, from)
	case stock <= to:
		err = fmt.Errorf("a stock of %.4g mS/cm cannot bring a solution to %.4g: it has to be stronger", stock, to)
	}
	if err != nil {
		return 0, mixed("raise", err)
	}
	return v * quantity.Litres((to-from)/(stock-to)), nil
}

// Dilute is the water to add to a volume at one strength to bring it to a lower
// one: V·(from − to)/(to − water).
func Dilute(v quantity.Litres, from, to, water EC) (quantity.Litres, error) {
	if err := weakens(v, from, to, water); err != nil {
		return 0, mixed("dilute", err)
	}
	if to == from {
		return 0, nil
	}
	return v * quantity.Litres((from-to)/(to-water)), nil
}

// Replace is the part of a full tank to throw away and make up with water to
// bring it to a lower strength: V·(from − to)/(from − water).
func Replace(v quantity.Litres, from, to, water EC) (quantity.Litres, error) {
	if err := weakens(v, from, to, water); err != nil {
		return 0, mixed("replace", err)
	}
	if to == from {
		return 0, nil
	}
	return v * quantity.Litres((from-to)/(from-water)), nil
}

func weakens(v quantity.Litres, from, to, water EC) error {
	err := cmp.Or(tank(v), working("EC now", from), working("EC wanted", to), working("EC of the water", water))
	switch {
	case err != nil:
		return err
	case to > from:
		return fmt.Errorf("the EC wanted, %.4g mS/cm, is above that of now, %.4g: raise instead", to, from)
	case to < from && water >= to:
		return fmt.Errorf("water of %.4g mS/cm cannot bring a solution down to %.4g: it has to be weaker", water, to)
	}
	return nil
}

// Lose is the strength of a volume after plants and air have taken so much
// plain water out of it: EC·V/(V − lost). Plants take some salt too, so that
// it is the most it can rise to.
func Lose(v, lost quantity.Litres, ec EC) (EC, error) {
	err := cmp.Or(tank(v), part("water lost", lost), working("EC", ec))
	if err == nil && lost >= v {
		err = quantity.Mistaken(func(u quantity.Units) string {
			return fmt.Sprintf("%s lost of %s leaves nothing: write what was lost, below the volume", u.Measured(lost), u.Measured(v))
		})
	}
	if err != nil {
		return 0, mixed("loss", err)
	}
	return ec * EC(v/(v-lost)), nil
}

// TopUp is the strength that the make-up for a tank has to have: left litres at
// one strength are made up to full, to come to the wanted one. It is below
// that of the water at hand where only a part change helps; see Replace.
func TopUp(full, left quantity.Litres, ec, to, water EC) (EC, error) {
	err := cmp.Or(tank(full), part("what is left", left),
		working("EC now", ec), working("EC wanted", to), working("EC of the water", water))
	if err == nil && left >= full {
		err = quantity.Mistaken(func(u quantity.Units) string {
			return fmt.Sprintf("%s left of %s: nothing to make up", u.Measured(left), u.Measured(full))
		})
	}
	if err != nil {
		return 0, mixed("top up", err)
	}
	with := (to*EC(full) - ec*EC(left)) / EC(full-left)
	if with < water {
		return 0, mixed("top up", fmt.Errorf("made up with water of %.4g mS/cm it still comes to %.4g: throw a part away first, as replace says",
			water, Blend(left, ec, full-left, water)))
	}
	if err := working("EC of the make-up", with); err != nil {
		return 0, mixed("top up", err)
	}
	return with, nil
}

// Blend is the strength of two volumes together, one of which is above 0.
func Blend(a quantity.Litres, ofA EC, b quantity.Litres, ofB EC) EC {
	return (ofA*EC(a) + ofB*EC(b)) / EC(a+b)
}

// Fed is the EC of the full-strength solution with which young plants on
// sub-irrigation grew most, from the least to the most of the trials, in nearly
// pure water. Sources: rows fed of testdata/published/solution-mix.csv.
var Fed = [2]EC{1.6, 2.2}

// AtStrength is the EC of a solution at a part of full strength in water that
// has an EC of its own: the salts of full are those of its EC in pure water.
func AtStrength(part quantity.Fraction, full, water EC) (EC, error) {
	err := cmp.Or(between("strength", 100*part, 0, 200, "%"), above("EC at full strength", full, strongest, "mS/cm"), working("EC of the water", water))
	if err != nil {
		return 0, mixed("strength", err)
	}
	return water + full*EC(part), nil
}
