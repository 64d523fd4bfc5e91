package grow

import (
	"cmp"
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

// Use is what the top-ups of a reservoir teach of its batches.
type Use struct {
	Scale float64 // times what is worked out for normal days; 1 while nothing is learned
	Wrong bool    // what was topped up cannot be what plants used
	Words string
}

// enoughTopUps is how long top-ups have to go back to be learned from.
const enoughTopUps = 7 * day

// Learn works out from the top-ups of a reservoir's diary what its batches
// really use; see demand.Learn.
func (s *Site) Learn(batches []int, entries []Entry, zone *time.Location) (Use, error) {
	tops := inOrder(entries, TopUp)
	daily, ok := DailyUse(entries)
	if !ok || tops[len(tops)-1].At.Sub(tops[0].At) < enoughTopUps {
		return Use{Scale: 1, Words: "top-ups of a week are needed to learn from"}, nil
	}
	from, to := schedule.CivilIn(tops[0].At, zone).Date(), schedule.CivilIn(tops[len(tops)-1].At, zone).Date()
	normal, err := s.worked(batches, from, to, Normal)
	if err != nil {
		return Use{}, err
	}
	hottest, err := s.worked(batches, from, to, Hottest)
	if err != nil {
		return Use{}, err
	}
	if leak := s.leakWords(daily, hottest); leak != "" {
		return Use{1, true, leak}, nil
	}
	scale, err := demand.Learn(daily, normal)
	if err != nil {
		return Use{1, true, s.unlearnt(daily, normal)}, nil
	}
	return Use{scale, false, fmt.Sprintf("%s a day were topped up, %s are worked out for normal days", s.volume(daily), s.volume(normal))}, nil
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
func (s *Site) leakWords(daily, hottest demand.Litres) string {
	if daily <= leaks*hottest || daily < 1 {
		return ""
	}
	return fmt.Sprintf("%s a day were topped up, and plants use %s on the hottest day: look for a leak under the bench and at the reservoir, or for a top-up written down twice",
		s.volume(daily), s.volume(hottest))
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

// Lasts is how many days a reservoir of these litres lasts at a use a day until
// it cannot make a flood, now and on days as hot as the hottest.
func Lasts(litres, reserve, daily, hottest demand.Litres) (now, hot float64) {
	return demand.ReservoirDays(litres, reserve, daily), demand.ReservoirDays(litres, reserve, cmp.Or(hottest, daily))
}
