package grow

import (
	"fmt"
	"time"

	"benchtide/schedule"
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

// used is the litres a day that went by the weighings of the latest weeks, less
// what a person took out of it, and over which dates; false where they are too few.
func used(pairs []Gone, entries []Entry, now time.Time) (daily demand.Litres, from, to time.Time, ok bool) {
	var went demand.Litres
	var over time.Duration
	for _, p := range pairs {
		if now.Sub(p.To) > latestWeeks {
			continue
		}
		if from.IsZero() {
			from = p.From
		}
		went, over, to = went+p.Litres, over+p.To.Sub(p.From), p.To
	}
	if over < enoughTopUps {
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

// latestWeeks is how far back weighings are learned from: plants grow.
const latestWeeks = 28 * day

// LearnFrom works out what the batches of a reservoir really use: from its
// weighings where they go back far enough, which takes no diary, else from the
// top-ups of its diary.
func (s *Site) LearnFrom(batches []int, pairs []Gone, entries []Entry, now time.Time, zone *time.Location) (Use, error) {
	daily, from, to, ok := used(pairs, entries, now)
	if !ok {
		return s.Learn(batches, entries, zone)
	}
	first, last := schedule.CivilIn(from, zone).Date(), schedule.CivilIn(to, zone).Date()
	normal, err := s.worked(batches, first, last, Normal)
	if err != nil {
		return Use{}, err
	}
	hottest, err := s.worked(batches, first, last, Hottest)
	if err != nil {
		return Use{}, err
	}
	if daily > leaks*hottest && daily >= 1 {
		return Use{1, true, fmt.Sprintf("%s a day went by the weighings, and plants use %s on the hottest day: look for a leak under the bench and at the reservoir", s.volume(daily), s.volume(hottest))}, nil
	}
	scale, err := demand.Learn(daily, normal)
	if err != nil {
		return Use{1, true, s.unlearnt(daily, normal)}, nil
	}
	return Use{scale, false, fmt.Sprintf("%s a day went by the weighings, %s are worked out for normal days", s.volume(daily), s.volume(normal))}, nil
}
