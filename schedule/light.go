package schedule

import "slices"

// Light says when plants have light.
type Light interface {
	// Hours returns the light hours that begin on d; to may lie on the day
	// after. ok is false when d has none (polar night); a polar day is the
	// whole of d.
	Hours(d Date) (from, to Civil, ok bool)
}

// Lamps is light by the clock. When Off is not later than On the lamps burn
// past midnight; when they are equal, all day.
type Lamps struct{ On, Off TimeOfDay }

// Hours returns the lamps' hours that begin on d.
func (l Lamps) Hours(d Date) (from, to Civil, ok bool) {
	if l.Off <= l.On {
		return d.At(l.On), d.AddDays(1).At(l.Off), true
	}
	return d.At(l.On), d.At(l.Off), true
}

// maxSpread is the most floods that Spread may ask for: one an hour.
const maxSpread = 24

// spread appends the times on d of n floods a day over the hours of light. The
// hours are cut in n equal parts with a flood in the middle of each, so that
// the last comes well before dark and the surface can dry (common practice, no
// source). Of light past midnight each date gets what falls on it.
func spread(dst []TimeOfDay, light Light, n int, d Date) []TimeOfDay {
	for _, begins := range [2]Date{d.AddDays(-1), d} {
		from, to, ok := light.Hours(begins)
		if !ok {
			continue
		}
		for i := range n {
			at := from + (to-from)*Civil(2*i+1)/Civil(2*n)
			at -= at % 60 // a whole minute is what a person can check
			if at.Date() == d {
				dst = append(dst, at.TimeOfDay())
			}
		}
	}
	slices.Sort(dst)
	return slices.Compact(dst)
}
