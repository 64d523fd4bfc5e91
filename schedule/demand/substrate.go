package demand

import "time"

// Substrate is what fills a pot. Shares are of its volume, in a column that was
// filled to the brim and has drained.
type Substrate struct {
	Water, Air float64
	Column     Metres        // height of that column
	Drinks     time.Duration // time constant of taking up water from below; see Pot
}

// bound is the share of the pores that keep their water however high they are over
// the base of a pot: those that hold it against 50 cm, 0.35 of 0.90 (within the ideal
// of de Boodt and Verdonck, Acta Horticulturae 26:37, 1972, from memory).
const bound = 0.39

// Capacity is the share of water in a drained pot of that height. Pores at its base
// stay full; the air above them rises evenly to what bound leaves, so that a low pot
// holds more than a tall one. What the air and water of a pot come to over its height
// is after Milks, Fonteno and Larson, Journal of the American Society for
// Horticultural Science 114:53, 1989; that it is a straight line is judgement.
func (s Substrate) Capacity(height Metres) float64 {
	pores := s.Water + s.Air
	most := (1 - bound) * pores
	rise := s.Column * Metres(most/(2*s.Air)) // height at which the air reaches the most
	if s.Air > most/2 {
		rise = s.Column * Metres(2*max(0, 1-s.Air/most))
	}
	if height <= rise {
		return pores - most*float64(height/rise)/2
	}
	return pores - most*(1-float64(rise/height)/2)
}
