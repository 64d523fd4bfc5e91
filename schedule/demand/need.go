package demand

import (
	"fmt"
	"math"
	"time"
)

// Batch is a number of equal pots with one crop.
type Batch struct {
	Pots  int
	Pot   Pot
	Space SquareMetres // of bench that each pot has
	Crop  Crop
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
}

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
	n.PerPot = Litres(max(0, float64(w.Reference)*n.Factor*float64(b.Space)))
	n.Litres = n.PerPot * Litres(b.Pots)
	n.Lasts = b.Pot.Lasts(n.PerPot, w.Shine)
	for floods := 1; floods <= mostFloods && n.Floods == 0; floods++ {
		s := steady{b.Pot, n.PerPot, b.Pot.Fills(contact), w.Shine, floods}
		if before, after := s.lacks(); before <= b.Pot.Gives() {
			n.Floods, n.CanWait = floods, w.Shine.shortest(days(b.Pot.Gives()-after, n.PerPot))
		}
	}
	return n, nil
}

func (b Batch) check(w Weather) error {
	if b.Crop == nil {
		return fmt.Errorf("no crop: say how much it uses at an age")
	}
	if w.Shine.Rise < 0 || w.Shine.Set < w.Shine.Rise || w.Shine.length() > day {
		return fmt.Errorf("light from %v to %v: it begins within a day and lasts at most one", w.Shine.Rise, w.Shine.Set)
	}
	return first(b.Pot.check(),
		between("number of pots", float64(b.Pots), 0, 1e6, ""),
		between("bench for each pot", b.Space, 1e-4, 10, "m²"),
		between("reference evapotranspiration", w.Reference, -2, 20, "mm a day"))
}

// steady is a pot on days that are all alike, with floods in the middle of
// equal parts of the light.
type steady struct {
	pot    Pot
	daily  Litres
	fills  float64
	shine  Shine
	floods int
}

// at is when the i-th flood comes.
func (s steady) at(i int) time.Duration {
	return s.shine.Rise + s.shine.length()*time.Duration(2*i+1)/time.Duration(2*s.floods)
}

// lacks is the most that a pot lacks of container capacity, before a flood and
// after one. A day changes the lack m before its first flood into a·m + c, so
// that the steady one is c/(1 − a).
func (s steady) lacks() (before, after Litres) {
	keep := Litres(1 - s.fills)
	if s.fills <= 0 {
		return Litres(math.Inf(1)), Litres(math.Inf(1))
	}
	a, c := Litres(1), Litres(0)
	for i := range s.floods {
		a, c = a*keep, c*keep+s.use(i)
	}
	lack := c / (1 - a)
	for i := range s.floods {
		before, after = max(before, lack), max(after, lack*keep)
		lack = lack*keep + s.use(i)
	}
	return before, after
}

// use is what plants use between the i-th flood and the next.
func (s steady) use(i int) Litres {
	next := day + s.at(0)
	if i+1 < s.floods {
		next = s.at(i + 1)
	}
	return s.daily * Litres(s.shine.used(next)-s.shine.used(s.at(i)))
}

// Forecast is what a batch needs on a mild, a normal and the hottest day.
type Forecast struct{ Mild, Normal, Hottest Need }

// Forecast works out Need for each kind of day of a climate.
func (b Batch) Forecast(age int, contact time.Duration, c Climate) (Forecast, error) {
	var f Forecast
	for _, kind := range []struct {
		need *Need
		Weather
	}{{&f.Mild, c.Mild}, {&f.Normal, c.Normal}, {&f.Hottest, c.Hottest}} {
		need, err := b.Need(age, contact, kind.Weather)
		if err != nil {
			return Forecast{}, err
		}
		*kind.need = need
	}
	return f, nil
}

// ReservoirDays is how many days a reservoir lasts at that use a day. It ends
// before it is empty: reserve is what one flood takes out together with what
// stands in the hose and over the intake. It is infinite at no use.
func ReservoirDays(litres, reserve, daily Litres) float64 {
	switch {
	case litres <= reserve:
		return 0
	case daily <= 0:
		return math.Inf(1)
	}
	return float64((litres - reserve) / daily)
}
