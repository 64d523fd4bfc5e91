package grow

import (
	"math"
	"slices"
	"time"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// PotsLast is how long after a flood of that hold, which ended at a time, the pots
// of a batch still give what its plants take without stress, on the hottest days
// of their months, and at most most, where the batch uses so many times as much as is
// worked out. The flood is taken to have found them at
// their limit, so that it filled them no further than its contact does.
func (s *Site) PotsLast(batch int, watered time.Time, hold, most time.Duration, times float64, zone *time.Location) (time.Duration, error) {
	return s.gives(batch, s.given(&s.Batches[batch], hold), Hottest, watered, most, times, zone)
}

// gives is how long from a time on, and at most most, the pots of a batch give what
// is left in each before its limit, on days of a kind and with plants that use so many
// times as much as is worked out.
func (s *Site) gives(batch int, each demand.Litres, k Kind, watered time.Time, most time.Duration, times float64, zone *time.Location) (time.Duration, error) {
	b, left := &s.Batches[batch], float64(each)
	var lasted time.Duration
	for d := schedule.CivilIn(watered, zone).Date(); lasted < most; d++ {
		w, err := s.Weather(d, k)
		if err != nil {
			return 0, err
		}
		from := within(watered.Add(lasted).Sub(d.At(0).In(zone)))
		a := times * float64(b.Demand.Wants(b.age(d), w))
		if wants := a * w.Shine.Between(from, day); wants < left {
			left -= wants
			lasted = d.AddDays(1).At(0).In(zone).Sub(watered)
			continue
		}
		return min(most, lasted+until(w.Shine, from, left/a)), nil
	}
	return most, nil
}

// Reach is how long after a flood the pots of a batch reach their limit on ordinary
// days, and the span in which nine in ten times lie.
type Reach struct{ Lasts, Low, High time.Duration }

// unsure is how far nine in ten of such ratios, of what pots give to what their plants
// use a day, lie from what is worked out, as a factor either way. By squares of
// logarithms: half of the span of the daily use, 0.25 for the weather of a day or two,
// 0.20 for what pots give before the limit (20 to 30 % of the volume, and a capacity
// within a tenth), 0.10 for how far the flood filled them. Judgement, no source but for
// what pots give, see demand.NewPot.
func unsure(use span) float64 {
	const weather, gives, filled = 0.25, 0.20, 0.10
	used := math.Log(use.high/use.low) / 2 / nine
	return math.Exp(nine * math.Sqrt(used*used+weather*weather+gives*gives+filled*filled))
}

// nine is how many standard deviations nine in ten lie within, by the normal curve.
const nine = 1.645

// wetted is the site with half of the time in which little water stands at the pots as
// time in which they drink (judgement, no source): what is left out elsewhere, where
// drier pots are the safe side.
func (s *Site) wetted() *Site {
	w := *s
	w.Falls = slices.Clone(s.Falls)
	for i, t := range s.Shallow {
		w.Falls[i] += t / 2
	}
	return &w
}

// PotsReach is when the pots of a batch reach their limit after a flood that ended at
// a time, should no other follow: on ordinary days, with the water in them that the
// plan's floods of the days before have left, of plants whose Demand.Scale is that of use.
func (s *Site) PotsReach(batch int, watered time.Time, most time.Duration, use Use, zone *time.Location) (r Reach, err error) {
	b := &s.Batches[batch]
	on := schedule.CivilIn(watered, zone)
	first := max(b.Transplanted, on.Date().AddDays(-settles))
	c, err := s.wetted().course(b, Normal, 1, first, first, int(on.Date()-first)+1, s.floodsOn(b.Bench, first, on.Date().AddDays(1)))
	if err != nil {
		return r, err
	}
	pot := b.Demand.Pot
	left := pot.Gives()
	for _, p := range c.Points {
		if p.At <= on {
			left = demand.Litres(p.Share)*pot.Holds() - pot.Threshold()
		}
	}
	by := unsure(s.known([]int{batch}, use, on.Date()))
	for at, factor := range map[*time.Duration]float64{&r.Lasts: 1, &r.Low: by, &r.High: 1 / by} {
		if *at, err = s.gives(batch, max(0, left), Normal, watered, most, factor, zone); err != nil {
			return r, err
		}
	}
	return r, nil
}

// PotsLastWhenever is PotsLast where nobody knows the date or the time of day: by
// day in the hottest month, of plants as old as on a date.
func (s *Site) PotsLastWhenever(batch int, on schedule.Date, hold, most time.Duration, times float64) (time.Duration, error) {
	b := &s.Batches[batch]
	pot := b.Demand.Pot
	pot.Easy = float64(s.given(b, hold) / pot.Volume)
	for m := time.January; m <= time.December; m++ {
		w, err := s.Weather(schedule.DateOf(on.Year(), m, 15), Hottest)
		if err != nil {
			return 0, err
		}
		most = min(most, pot.Lasts(demand.Litres(times)*b.Demand.Wants(b.age(on), w), w.Shine))
	}
	return most, nil
}

// given is what a pot that was flooded at its limit gives until it is there again.
func (s *Site) given(b *Batch, hold time.Duration) demand.Litres {
	pot := b.Demand.Pot
	return pot.Flooded(pot.Threshold(), s.contact(b, hold)) - pot.Threshold()
}

// until is how long from a time of day it takes to use a share of a day's water,
// which is used up before midnight; to a second.
func until(shine demand.Shine, from time.Duration, share float64) time.Duration {
	low, high := from, day
	for high-low > time.Second {
		if middle := (low + high) / 2; shine.Between(from, middle) < share {
			low = middle
		} else {
			high = middle
		}
	}
	return high - from
}

// Dry is where a plan first leaves the pots of a batch under their limit on hot days:
// after a flood the next one comes later than the pots last.
type Dry struct {
	After schedule.Planned // the flood
	Lasts time.Duration    // that the pots last after it
	Next  time.Duration    // from it to the next one; 0 where none follows
}

// dryEvery is how many days apart a plan is looked at for the first that is too dry,
// before the days between are.
const dryEvery = 5

// FirstDry looks for it from a date to another; false where there is none.
func (s *Site) FirstDry(batch int, from, to schedule.Date, zone *time.Location) (Dry, bool, error) {
	b := &s.Batches[batch]
	from = max(from, b.Transplanted)
	if b.Closed != 0 {
		to = min(to, b.Closed)
	}
	for begin := from; begin <= to; begin += dryEvery {
		d := min(begin+dryEvery-1, to)
		dry, found, err := s.dryOn(batch, d, zone)
		if err != nil {
			return Dry{}, false, err
		}
		for before := begin; found && before < d; before++ {
			if sooner, found, err := s.dryOn(batch, before, zone); err != nil || found {
				return sooner, found, err
			}
		}
		if found {
			return dry, true, nil
		}
	}
	return Dry{}, false, nil
}

// dryOn looks at the floods that begin on a date.
func (s *Site) dryOn(batch int, d schedule.Date, zone *time.Location) (Dry, bool, error) {
	b := &s.Batches[batch]
	for _, f := range s.floodsOn(b.Bench, d, d.AddDays(1)) {
		next, follows := s.Calendar.After(b.Bench, f.Slot.Local)
		if !follows {
			continue // the batch leaves
		}
		gap := next.Due.Sub(f.Due)
		lasts, err := s.PotsLast(batch, f.Due.Add(f.Hold), f.Hold, gap, 1, zone)
		if err != nil || lasts < gap {
			return Dry{f, lasts, gap}, err == nil, err
		}
	}
	return Dry{}, false, nil
}
