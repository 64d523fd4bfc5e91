package grow

import (
	"fmt"
	"time"

	"benchtide/controller/quantity"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// DailyUse is the litres a day that top-ups to the same mark show: all but the
// first, over the time from the first to the last. It needs two of them a day
// apart; ok is false otherwise.
func DailyUse(entries []Entry) (litres demand.Litres, ok bool) {
	all := inOrder(entries, TopUp)
	if len(all) < 2 || all[len(all)-1].At.Sub(all[0].At) < day {
		return 0, false
	}
	for _, e := range all[1:] {
		litres += demand.Litres(e.Value)
	}
	return litres / demand.Litres(days(all[len(all)-1].At.Sub(all[0].At))), true
}

// Use is what the record of a reservoir teaches of its batches.
type Use struct {
	Scale float64 // times what is worked out for normal days; 1 while nothing is learned
	Wrong bool    // what went cannot be what plants used
	Words string
	Since schedule.Date // from which on it was learned; 0 while nothing is
}

// enoughRecord is how long a record has to be to be learned from, and how much of it
// is: plants grow, so that the latest days say most of those to come. Five to seven
// did best on simulated benches of wild nature; see controller/rehearse/score.
const enoughRecord = 5 * day

// lately are the latest top-ups that go back far enough, as few of them as may be.
func lately(tops []Entry) ([]Entry, bool) {
	for i := len(tops) - 1; i >= 0; i-- {
		if tops[len(tops)-1].At.Sub(tops[i].At) >= enoughRecord {
			return tops[i:], true
		}
	}
	return nil, false
}

// Learn works out from the top-ups of a reservoir's diary what its batches
// really use; see demand.Learn.
func (s *Site) Learn(batches []int, entries []Entry, zone *time.Location) (Use, error) {
	tops, ok := lately(inOrder(entries, TopUp))
	if !ok {
		return Use{Scale: 1, Words: "top-ups of five days are needed to learn from"}, nil
	}
	daily, _ := DailyUse(tops)
	return s.learned(batches, daily, tops[0].At, tops[len(tops)-1].At, zone, byTopUps)
}

// How water is known to have gone: as it is said, and what else it may have been.
type witness struct{ said, or string }

var (
	byTopUps    = witness{"were topped up", ", or for a top-up written down twice"}
	byWeighings = witness{"went by the weighings", ""}
)

// learned holds what went a day from one time to another against what is worked out,
// with what pots that came meanwhile drank to be full.
func (s *Site) learned(batches []int, daily demand.Litres, from, to time.Time, zone *time.Location, by witness) (Use, error) {
	first, last := schedule.CivilIn(from, zone).Date(), schedule.CivilIn(to, zone).Date()
	var worked [len(Kinds)]demand.Litres
	for _, k := range [...]Kind{Normal, Hottest} {
		var err error
		if worked[k], err = s.worked(batches, first, last, k); err != nil {
			return Use{}, err
		}
	}
	if leak := s.leakWords(daily, worked[Hottest], by); leak != "" {
		return Use{Scale: 1, Wrong: true, Words: leak}, nil
	}
	filled := s.filled(batches, first, last)
	scale, err := demand.Learn(max(0, daily-filled), worked[Normal])
	if err != nil {
		return Use{Scale: 1, Wrong: true, Words: s.unlearnt(daily, worked[Normal])}, nil
	}
	return Use{Scale: scale, Words: fmt.Sprintf("%s a day %s, %s are worked out for normal days", s.volume(daily), by.said, s.volume(worked[Normal])), Since: first}, nil
}

// arrives is the share of what they hold that pots lack when they come to a bench, by
// and large (common practice, no source: trays dry out on the way; see Driest for the
// most).
const arrives = 0.2

// filled is what pots that came to the bench between two dates drank a day to be full.
func (s *Site) filled(batches []int, from, to schedule.Date) (litres demand.Litres) {
	for _, i := range batches {
		if b := &s.Batches[i]; b.Transplanted > from && b.Transplanted <= to {
			litres += arrives * demand.Litres(b.Demand.Pots) * b.Demand.Pot.Holds()
		}
	}
	return litres / demand.Litres(to-from)
}

// worked is what batches use a day on the mean, from one date up to another.
func (s *Site) worked(batches []int, from, to schedule.Date, k Kind) (litres demand.Litres, err error) {
	for _, i := range batches {
		b := &s.Batches[i]
		for d := max(from, b.Transplanted); d < to && (b.Closed == 0 || d <= b.Closed); d++ {
			n, err := s.needs(b, d, k)
			if err != nil {
				return 0, err
			}
			litres += n.Litres
		}
	}
	return litres / demand.Litres(to-from), nil
}

// volume is one of water as people read it.
func (s *Site) volume(l demand.Litres) string { return s.Units.Reckoned(quantity.Litres(l)) }

// unlearnt says why what plants used cannot be learned from; see demand.Learn.
func (s *Site) unlearnt(used, worked demand.Litres) string {
	if !(worked > 0) {
		return s.volume(worked) + " worked out: learn from days on which plants used water"
	}
	return fmt.Sprintf("%s used, %s worked out: look for a leak, a top-up not written down, or wrong pots", s.volume(used), s.volume(worked))
}

// leaks is how many times what plants use has to be gone before a leak is
// suspected: plants and weather differ by half (judgement, no source).
const leaks = 1.5

// leakWords says in words that more water goes than plants can use, or nothing.
// hottest is what they use on the hottest day, L.
func (s *Site) leakWords(daily, hottest demand.Litres, by witness) string {
	if daily <= leaks*hottest || daily < 1 {
		return ""
	}
	return fmt.Sprintf("%s a day %s, and plants use %s on the hottest day: look for a leak under the bench and at the reservoir%s",
		s.volume(daily), by.said, s.volume(hottest), by.or)
}

// TopUpNow answers whether to top up now: only while every table of the
// reservoir is empty and stays so for a while, as what stands in a table comes
// back. next is how long until its next flood; below 0 when none is planned.
func TopUpNow(flooded []string, next time.Duration) (bool, string) {
	const enough = 15 * time.Minute
	switch {
	case len(flooded) > 0:
		return false, fmt.Sprintf("Not now: %s holds water that comes back. Wait until it is bare.", flooded[0])
	case next >= 0 && next < enough:
		return false, fmt.Sprintf("Not now: a flood is due in %s. Wait until the table is bare again.", quantity.Duration(next.Round(time.Minute)))
	}
	return true, "Yes: the tables are empty."
}

// Left is what a reservoir still has, if its last top-up filled it to the mark
// and plants used so much a day since; false where no top-up is written down.
func Left(entries []Entry, holds, daily demand.Litres, now time.Time) (demand.Litres, bool) {
	fills := inOrder(entries, TopUp, SolutionChange)
	if len(fills) == 0 {
		return 0, false
	}
	return max(0, holds-daily*demand.Litres(days(now.Sub(fills[len(fills)-1].At)))), true
}
