package grow

import (
	"benchtide/schedule"
)

// Cause is what holds a batch back.
type Cause int

// The causes.
const (
	ByDrought Cause = iota
	ByWater
	ByStrength
	ByCold
	ByDark
	Causes
)

// Prospect is by how many days each cause is expected to hold a batch back.
type Prospect [Causes]float64

// Days are those of all causes together.
func (p Prospect) Days() (days float64) {
	for _, x := range p {
		days += x
	}
	return days
}

// How plants suffer; common practice, no source, but that growth falls in proportion
// below the water that is easy to take (FAO-56 eq. 84). They order plans; no date
// follows from them.
const (
	soaked     = 0.93 // share of what a pot holds above which roots want air
	soakedSlow = 0.15 // days lost a day in it
	hardened   = 28   // days until plants bear full strength
	saltSlow   = 0.6  // days lost a day and share of strength beyond what their age bears
	weakSlow   = 0.5  // and short of what it wants
	chillSlow  = 0.08 // days lost a night and °C
	darkSlow   = 0.8  // days lost a day without light
)

// often is how often a day of a kind comes (judgement, no source).
var often = [len(Kinds)]float64{Mild: 0.25, Normal: 0.5, Hottest: 0.25}

// Prospect is what the plan of a batch comes to over some days, by the site's climate;
// nothing where it does not stand on the first of them.
func (s *Site) Prospect(batch int, from schedule.Date, days int) (p Prospect, err error) {
	f, stands, err := s.Forecast(batch, from, days)
	if err != nil || !stands {
		return p, err
	}
	for k, course := range f.Courses {
		for i := 1; i < len(course.Points); i++ {
			a, b := course.Points[i-1], course.Points[i]
			dry, wet := suffers((a.Share+b.Share)/2, f.Limit)
			p[ByDrought] += often[k] * dry * float64(b.At-a.At) / float64(wholeDay)
			p[ByWater] += often[k] * wet * float64(b.At-a.At) / float64(wholeDay)
		}
	}
	for d := from; d < from.AddDays(f.Days); d++ {
		s.fares(&p, batch, d)
	}
	return p, nil
}

// suffers is the growth lost at a share of what a pot holds.
func suffers(share, limit float64) (dry, wet float64) {
	switch {
	case share < limit:
		return 1 - share/limit, 0
	case share > soaked:
		return 0, soakedSlow
	}
	return 0, 0
}

// fares adds what a day brings beside water.
func (s *Site) fares(p *Prospect, batch int, d schedule.Date) {
	b := &s.Batches[batch]
	if rule, ok := s.Calendar.Governs(b.Bench, d); ok {
		grown := min(1, float64(b.age(d))/hardened)
		p[ByStrength] += saltSlow*max(0, float64(rule.Strength)-0.4-0.6*grown) + weakSlow*max(0, 0.1+0.5*grown-float64(rule.Strength))
	}
	lows, light := s.Line(d.Month()).Lows, s.Light(d)
	p[ByCold] += chillSlow * short(float64(lows.Least), float64(lows.Most), float64(WarmthOf(b.Grows).Cold))
	p[ByDark] += darkSlow * short(light.Dull+light.Lamps, light.Bright+light.Lamps, light.Least) / light.Least
}

// short is by how much what lies evenly between a least and a most falls short of what
// is wanted, on average.
func short(least, most, wanted float64) float64 {
	switch {
	case wanted <= least:
		return 0
	case wanted >= most:
		return wanted - (least+most)/2
	}
	return (wanted - least) * (wanted - least) / 2 / (most - least)
}
