package demand

import (
	"math"
	"time"
)

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
