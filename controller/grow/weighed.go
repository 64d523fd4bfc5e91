package grow

import (
	"time"

	"benchtide/schedule/demand"
)

// Weighing is one reading of a reservoir. Gone is nil where it makes no pair with
// the one before.
type Weighing struct {
	At   time.Time
	Gone *float64 // L
}

// Pairs are the stretches between the weighings of a reservoir, oldest first.
func Pairs(all []Weighing) (pairs []Gone) {
	for i := 1; i < len(all); i++ {
		if g := all[i].Gone; g != nil && all[i].At.After(all[i-1].At) {
			pairs = append(pairs, Gone{all[i-1].At, all[i].At, demand.Litres(*g)})
		}
	}
	return pairs
}

// used is the litres a day that went by the latest weighings, less what a person took
// out of it, and from when to when; false where they are too few.
func used(pairs []Gone, entries []Entry, now time.Time) (daily demand.Litres, from, to time.Time, ok bool) {
	var went demand.Litres
	var over time.Duration
	for i := len(pairs) - 1; i >= 0 && over < enoughRecord && now.Sub(pairs[i].To) <= latestWeeks; i-- {
		p := pairs[i]
		if to.IsZero() {
			to = p.To
		}
		from, went, over = p.From, went+p.Litres, over+p.To.Sub(p.From)
	}
	if over < enoughRecord {
		return 0, from, to, false
	}
	for _, e := range inOrder(entries, TakenOut) {
		for _, p := range pairs {
			if e.At.Truncate(time.Second).Equal(p.To.Truncate(time.Second)) && !p.From.Before(from) {
				went -= demand.Litres(e.Value)
			}
		}
	}
	return max(0, went) / demand.Litres(days(over)), from, to, true
}

// latestWeeks is how far back weighings are learned from at most: plants grow.
const latestWeeks = 28 * day

// LearnFrom works out what the batches of a reservoir really use: from its
// weighings where they go back far enough, which takes no diary, else from the
// top-ups of its diary.
func (s *Site) LearnFrom(batches []int, pairs []Gone, entries []Entry, now time.Time, zone *time.Location) (Use, error) {
	daily, from, to, ok := used(pairs, entries, now)
	if !ok {
		return s.Learn(batches, entries, zone)
	}
	return s.learned(batches, daily, from, to, zone, byWeighings)
}
