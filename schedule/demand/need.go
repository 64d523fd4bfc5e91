package demand

import (
	"cmp"
	"fmt"
	"time"
)

// Batch is a number of equal pots with one crop.
type Batch struct {
	Pots  int
	Pot   Pot
	Space SquareMetres // of bench that each pot has
	Crop  Crop

	// Scale is how many times as much the batch uses as is worked out, as
	// litres topped up have shown; see Learn. 0 means 1.
	Scale float64
}

// Weather is a day as plants feel it.
type Weather struct {
	Reference Millimetres
	Shine     Shine
}

// Need is what a batch needs on days of one kind.
type Need struct {
	Weather
	Factor  float64 // of the crop at its age
	PerPot  Litres  // a day
	Litres  Litres  // a day, of all pots
	Lasts   time.Duration
	Floods  int           // a day that keep every pot above its threshold; 0 when no number does
	CanWait time.Duration // from any of these floods on, where the next ones fail, until the threshold
	Every   int           // where one flood a day is enough: on every how many days one is, up to Seldomest
}

// Seldomest is the most days from one flood to the next that a need speaks of: pots
// that last longer differ too much among themselves (judgement, no source).
const Seldomest = 3

// mostFloods is the most floods a day that are looked at.
const mostFloods = 24

// Need works out what a batch of an age in days needs, where floods stand at
// the pots for contact and are spread over the light hours. Floods tells a
// longer hold or larger pots by 0, where more floods do not help.
func (b Batch) Need(age int, contact time.Duration, w Weather) (Need, error) {
	if err := b.check(w); err != nil {
		return Need{}, err
	}
	n := Need{Weather: w, Factor: b.Crop.Factor(age)}
	n.PerPot = b.Wants(age, w)
	n.Litres = n.PerPot * Litres(b.Pots)
	n.Lasts = b.Pot.Lasts(n.PerPot, w.Shine)
	for floods := 1; floods <= mostFloods && n.Floods == 0; floods++ {
		s := steady{b.Pot, n.PerPot, b.Pot.Fills(contact), w.Shine, floods}
		if before, after := s.lacks(); before <= b.Pot.Gives() {
			n.Floods, n.CanWait = floods, w.Shine.shortest(days(b.Pot.Gives()-after, n.PerPot))
		}
	}
	for n.Every = 1; n.Floods == 1 && n.Every < Seldomest; n.Every++ {
		s := steady{b.Pot, n.PerPot * Litres(n.Every+1), b.Pot.Fills(contact), w.Shine, 1}
		if before, _ := s.lacks(); before > b.Pot.Gives() {
			break
		}
	}
	return n, nil
}

// Wants is what the plants of one pot use in a day, L.
func (b Batch) Wants(age int, w Weather) Litres {
	return Litres(max(0, float64(w.Reference)*b.Crop.Factor(age)*float64(b.Space)*b.scale()))
}

func (b Batch) check(w Weather) error {
	if b.Crop == nil {
		return fmt.Errorf("no crop: say how much it uses at an age")
	}
	if w.Shine.Rise < 0 || w.Shine.Set < w.Shine.Rise || w.Shine.length() > day {
		return fmt.Errorf("light from %v to %v: it begins within a day and lasts at most one", w.Shine.Rise, w.Shine.Set)
	}
	return cmp.Or(b.Pot.check(),
		between("number of pots", float64(b.Pots), 0, 1e6, ""),
		between("bench for each pot", b.Space, 1e-4, 10, "m²"),
		between("scale of use", b.scale(), leastScale, mostScale, ""),
		between("reference evapotranspiration", w.Reference, -2, 20, "mm a day"))
}
