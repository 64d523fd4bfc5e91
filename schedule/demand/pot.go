package demand

import (
	"cmp"
	"fmt"
	"math"
	"time"
)

// Pot is the water of one pot. Shares are of the volume of its substrate.
type Pot struct {
	Volume   Litres  // of substrate
	Capacity float64 // water left after draining, container capacity
	Easy     float64 // part of Capacity that plants take without stress
	Hard     float64 // part that they take after it, ever more slowly; the rest never

	// Drinks is the time constant of taking up water from below: after it
	// 63 % of what was missing are there.
	Drinks time.Duration
}

// UsualDrinks is a time constant for moist peat mixes: pots flooded for a
// cycle of 4 min take a quarter less than at saturation (Gent et al., on
// partial saturation, HortScience, as reported in 2016), so 4 min/ln 4.
const UsualDrinks = 173 * time.Second

// NewPot is a pot of which the container capacity alone is known. Of that, 25 %
// of the volume come easily, the middle of the 20 to 30 % of de Boodt and
// Verdonck, Acta Horticulturae 26:37, 1972 (from memory), yet no more than half
// of what it holds (common practice, no source); as much again comes hard.
func NewPot(volume Litres, capacity float64) (Pot, error) {
	p := Pot{Volume: volume, Capacity: capacity, Easy: min(0.25, capacity/2), Hard: min(0.25, capacity/2), Drinks: UsualDrinks}
	return p, p.check()
}

func (p Pot) check() error {
	if p.Drinks <= 0 {
		return fmt.Errorf("time that a pot takes to drink of %v: it is above 0", p.Drinks)
	}
	return cmp.Or(between("volume of a pot", p.Volume, 0.001, 1000, "L"),
		between("container capacity", 100*p.Capacity, 1, 100, "%"),
		between("easily available water", 100*p.Easy, 0.1, 100*p.Capacity, "%"),
		between("water that comes hard", 100*p.Hard, 0, 100*(p.Capacity-p.Easy)+1e-9, "%"))
}

// Holds is the water in a pot at container capacity.
func (p Pot) Holds() Litres { return p.Volume * Litres(p.Capacity) }

// Gives is the part of it that plants take without stress.
func (p Pot) Gives() Litres { return p.Volume * Litres(p.Easy) }

// Threshold is the water in a pot below which its plants begin to suffer.
func (p Pot) Threshold() Litres { return p.Holds() - p.Gives() }

// Fills is the share of what a pot lacks that a flood of that contact gives it:
// 1 − exp(−contact/Drinks). Very dry peat takes less and is best wetted from
// above first (Agronomy 10:1389, 2020).
func (p Pot) Fills(contact time.Duration) float64 {
	return -math.Expm1(-float64(max(0, contact)) / float64(p.Drinks))
}

// Flooded is the water in a pot after a flood of that contact.
func (p Pot) Flooded(water Litres, contact time.Duration) Litres {
	return water + (p.Holds()-water)*Litres(p.Fills(contact))
}

// Used is the water in a pot after its plants wanted that much. Below the
// threshold they get of their want the share that is left of what comes hard.
// Source: FAO-56 eq. 84, integrated.
func (p Pot) Used(water, wanted Litres) Litres {
	easily := max(0, water-p.Threshold())
	if wanted <= easily {
		return water - wanted
	}
	hard := p.Volume * Litres(p.Hard)
	never := p.Threshold() - hard
	left := min(water, p.Threshold()) - never
	if left <= 0 || hard <= 0 {
		return min(water, p.Threshold())
	}
	return never + left*Litres(math.Exp(-float64((wanted-easily)/hard)))
}

// Lasts is the shortest time, beginning at any time of day, that a pot at
// container capacity gives at that use a day, at most 90 days.
func (p Pot) Lasts(daily Litres, shine Shine) time.Duration {
	return shine.shortest(days(p.Gives(), daily))
}

// days is how many days water lasts at that use a day, at most longest.
func days(water, daily Litres) float64 {
	if float64(daily)*longest <= float64(water) {
		return longest
	}
	return float64(water / daily)
}

// longest is the most days that a pot is said to last.
const longest = 90
