package demand

import (
	"math"
	"time"
)

const day = 24 * time.Hour

// Shine is when plants have light on each day, as times of day with Set after
// Rise. Their use of water follows the light as half a sine wave between the
// two; by night it is none. Lamps shine more evenly, so that a pot lasts a
// little longer under them than this says.
type Shine struct{ Rise, Set time.Duration }

// ShineFor is that many hours of light around noon, at most a whole day.
func ShineFor(light Hours) Shine {
	half := time.Duration(float64(min(light, 24)) / 2 * float64(time.Hour))
	return Shine{day/2 - half, day/2 + half}
}

func (s Shine) length() time.Duration { return s.Set - s.Rise }

// used is how many days' worth of water has been used from the first midnight
// until at, which is not below 0.
func (s Shine) used(at time.Duration) float64 {
	whole := at / day
	passed := min(max(at-whole*day-s.Rise, 0), s.length())
	if s.length() <= 0 {
		return float64(whole)
	}
	return float64(whole) + (1-math.Cos(math.Pi*float64(passed)/float64(s.length())))/2
}

// Between is how many days' worth is used between two times since a midnight.
func (s Shine) Between(from, to time.Duration) float64 { return s.used(to) - s.used(from) }

// shortest is the least time in which that many days' worth can be used,
// whatever the time of day: whole days and nights, and the rest around noon.
func (s Shine) shortest(days float64) time.Duration {
	if days <= 0 {
		return 0
	}
	whole := math.Ceil(days) - 1
	part := 2 / math.Pi * math.Asin(days-whole)
	return time.Duration(whole)*day + time.Duration(part*float64(s.length()))
}
