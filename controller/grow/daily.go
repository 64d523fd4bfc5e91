package grow

import (
	"math"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Daily is what batches use a day on the mean of some days to come, and the span in
// which nine in ten of such means lie.
type Daily struct{ Litres, Low, High demand.Litres }

// span is by how many times nine in ten uses lie below and above what is stated.
type span struct{ low, high float64 }

// Measured against 160 simulated benches of wild nature that no estimate reads, in the
// week that followed; see controller/rehearse/score, and deploy/ACCURACY.md for what
// they come to on others. No source.
var (
	unlearned = span{0.67, 1.80} // by the file alone, or where what was learned cannot be
	learned   = span{0.73, 1.40} // with the same pots in the days learned from and in those to come
	mixed     = span{0.62, 1.60} // with others
)

// Daily works that out for the days from a date on, for plants that use what was
// learned of them: their Demand.Scale is that of use.
func (s *Site) Daily(batches []int, use Use, from schedule.Date, days int) (Daily, error) {
	litres, err := s.worked(batches, from, from.AddDays(days), Normal)
	by := s.known(batches, use, from.AddDays(days))
	return Daily{litres, litres * demand.Litres(by.low), litres * demand.Litres(by.high)}, err
}

// known is how well the use of batches is known up to a date.
func (s *Site) known(batches []int, use Use, until schedule.Date) span {
	switch {
	case use.Since == 0:
		return unlearned
	case s.changes(batches, use.Since, until):
		return mixed
	}
	return learned
}

// changes reports whether pots come to the bench or leave it between two dates.
func (s *Site) changes(batches []int, from, to schedule.Date) bool {
	for _, i := range batches {
		if b := &s.Batches[i]; b.Transplanted >= from && b.Transplanted < to || b.Closed >= from && b.Closed < to {
			return true
		}
	}
	return false
}

// DaysLeft is after how many days a reservoir is down to what it keeps, and the span in
// which nine in ten such numbers lie. Infinite where nothing is used.
type DaysLeft struct{ Days, Low, High float64 }

// season is how far ahead each day's own use is taken; plants use as much on as on the
// last of them.
const season = 90

// DaysLeft works that out for a reservoir that holds litres on a date, give or take so
// many: plants grow and days change, so that each day takes its own use.
func (s *Site) DaysLeft(batches []int, use Use, from schedule.Date, litres, give, keep demand.Litres) (r DaysLeft, err error) {
	need := [...]demand.Litres{litres - keep, litres - give - keep, litres + give - keep}
	ends := [...]*float64{&r.Days, &r.Low, &r.High}
	for i := range ends {
		*ends[i] = math.Inf(1)
	}
	var gone, before [len(need)]demand.Litres
	for d := range season {
		daily, err := s.worked(batches, from.AddDays(d), from.AddDays(d+1), Normal)
		if err != nil {
			return r, err
		}
		by := s.known(batches, use, from.AddDays(d+1))
		for i, times := range [...]float64{1, by.high, by.low} {
			before[i], gone[i] = gone[i], gone[i]+daily*demand.Litres(times)
			if math.IsInf(*ends[i], 1) && gone[i] >= need[i] && gone[i] > before[i] {
				*ends[i] = float64(d) + max(0, float64((need[i]-before[i])/(gone[i]-before[i])))
			}
		}
	}
	for i := range ends {
		if last := gone[i] - before[i]; math.IsInf(*ends[i], 1) && last > 0 {
			*ends[i] = season + float64((need[i]-gone[i])/last)
		}
	}
	return r, nil
}
