package grow

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/solution"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// EntryKind is what a diary entry is about.
type EntryKind string

// The kinds of entries that are worked with, each with what its value is.
const (
	TopUp          EntryKind = "top-up"          // L added
	SolutionChange EntryKind = "solution-change" // L of the new one; may be 0 where not written down
	EC             EntryKind = "ec"              // mS/cm
	PH             EntryKind = "ph"
	Temperature    EntryKind = "temperature" // °C of the solution
	Moisture       EntryKind = "moisture"    // 1 bone dry to 5 shining wet
	Cleaning       EntryKind = "cleaning"

	// Pots of a batch.
	Sown         EntryKind = "sown"
	Germinated   EntryKind = "germinated"
	Resown       EntryKind = "resown"
	Thinned      EntryKind = "thinned"
	Transplanted EntryKind = "transplanted"
	Lost         EntryKind = "lost"
	MovedOut     EntryKind = "moved-out"
)

// Entry is one line of a diary, about one reservoir or one batch.
type Entry struct {
	At    time.Time
	Kind  EntryKind
	Value float64
}

// inOrder is the entries of these kinds by time.
func inOrder(entries []Entry, kinds ...EntryKind) (some []Entry) {
	for _, e := range entries {
		if slices.Contains(kinds, e.Kind) {
			some = append(some, e)
		}
	}
	slices.SortStableFunc(some, func(a, b Entry) int { return a.At.Compare(b.At) })
	return some
}

const day = 24 * time.Hour

func days(d time.Duration) float64 { return float64(d) / float64(day) }

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
	if leak := Leak(daily, hottest); leak != "" {
		return Use{1, true, leak}, nil
	}
	scale, err := demand.Learn(daily, normal)
	if err != nil {
		return Use{1, true, err.Error()}, nil
	}
	return Use{scale, false, fmt.Sprintf("%.1f L a day were topped up, %.1f L are worked out for normal days", daily, normal)}, nil
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

// leaks is how many times what plants use has to be gone before a leak is
// suspected: plants and weather differ by half (judgement, no source).
const leaks = 1.5

// Leak says in words that more water goes than plants can use, or nothing.
// hottest is what they use on the hottest day, L.
func Leak(daily, hottest demand.Litres) string {
	if daily <= leaks*hottest || daily < 1 {
		return ""
	}
	return fmt.Sprintf("%.1f L a day were topped up, and plants use %.1f L on the hottest day: look for a leak under the bench and at the reservoir, or for a top-up written down twice",
		daily, hottest)
}

// Solution is the state of a nutrient solution by its diary.
type Solution struct {
	Since    time.Time // of the last change; zero when none is written down
	Days     float64   // since then
	Added    demand.Litres
	Turnover float64     // Added as a share of what the reservoir holds
	EC       solution.EC // read last; 0 when never
	Drift    float64     // mS/cm a day since the change, from a straight line through the readings; 0 for fewer than two
	Reasons  []string    // to change it
}

// Triggers are when a solution is due for a change. Sources disagree on which of
// the three counts: age, volume used or EC out of line; so any of them does.
type Triggers struct {
	Days     float64     // 14 is common practice, 5 to 7 for large plants
	Turnover float64     // 1: as much was added as the reservoir holds (common practice, no source)
	Off      float64     // share by which EC may be off what is wanted; 0.3 is judgement, no source
	Wanted   solution.EC // 0 when not known: then it is what was read soon after the change
}

// UsualTriggers leave out what is wanted.
var UsualTriggers = Triggers{Days: 14, Turnover: 1, Off: 0.3}

// SolutionOf works the state of a solution out from the diary of its reservoir.
func SolutionOf(entries []Entry, holds demand.Litres, t Triggers, now time.Time) Solution {
	var s Solution
	for _, e := range inOrder(entries, SolutionChange) {
		s.Since = e.At
	}
	since := slices.DeleteFunc(slices.Clone(entries), func(e Entry) bool { return e.At.Before(s.Since) })
	for _, e := range inOrder(since, TopUp) {
		s.Added += demand.Litres(e.Value)
	}
	s.Turnover = float64(s.Added / holds)
	readings := inOrder(since, EC)
	if len(readings) > 0 {
		s.EC = solution.EC(readings[len(readings)-1].Value)
	}
	s.Drift = slope(readings)
	if s.Since.IsZero() {
		s.Reasons = append(s.Reasons, "no change of the solution is written down")
	} else if s.Days = days(now.Sub(s.Since)); s.Days >= t.Days {
		s.Reasons = append(s.Reasons, fmt.Sprintf("it is %.0f days old", s.Days))
	}
	if s.Turnover >= t.Turnover {
		s.Reasons = append(s.Reasons, fmt.Sprintf("%.0f L were added since it was changed, as much as the reservoir holds", s.Added))
	}
	wanted, why := t.Wanted, "is wanted"
	if wanted == 0 && len(readings) > 0 && readings[0].At.Sub(s.Since) < soonAfter {
		wanted, why = solution.EC(readings[0].Value), "was read when it was new"
	}
	if off := float64(s.EC/wanted) - 1; wanted > 0 && s.EC > 0 && math.Abs(off) > t.Off {
		s.Reasons = append(s.Reasons, fmt.Sprintf("EC is %.2g mS/cm, and %.2g %s", s.EC, wanted, why))
	}
	return s
}

// soonAfter a change a reading tells the strength that the solution was mixed to
// (judgement, no source).
const soonAfter = 2 * day

// slope is that of the line of least squares through readings, a day.
func slope(readings []Entry) float64 {
	n := float64(len(readings))
	if n < 2 {
		return 0
	}
	var sx, sy, sxx, sxy float64
	for _, e := range readings {
		x := days(e.At.Sub(readings[0].At))
		sx, sy, sxx, sxy = sx+x, sy+e.Value, sxx+x*x, sxy+x*e.Value
	}
	if d := n*sxx - sx*sx; d > 0 {
		return (n*sxy - sx*sy) / d
	}
	return 0
}

// Cohort is pots of one age within a batch.
type Cohort struct {
	Since time.Time
	Pots  int
}

// Count is what the diary of a batch comes to.
type Count struct {
	Sown, Germinated, Resown, Thinned, Lost, MovedOut int
	Cohorts                                           []Cohort // that stand, the eldest first
}

// Standing is how many pots are left.
func (c Count) Standing() (pots int) {
	for _, k := range c.Cohorts {
		pots += k.Pots
	}
	return pots
}

// CountOf goes through the diary of a batch. Pots that are resown begin again:
// they leave the eldest and are a younger cohort. Lost pots are of the youngest,
// those moved out of the eldest. Thinned seedlings leave their pot standing.
func CountOf(entries []Entry) Count {
	var c Count
	for _, e := range inOrder(entries, counts...) {
		n := int(math.Round(e.Value))
		switch e.Kind {
		case Sown:
			c.Sown += n
			c.Cohorts = append(c.Cohorts, Cohort{e.At, n})
		case Transplanted: // the pots that go on, at age 0 of the plan
			c.Cohorts = []Cohort{{e.At, n}}
		case Germinated:
			c.Germinated += n
		case Thinned:
			c.Thinned += n
		case Resown:
			c.Resown += n
			c.eldest(n)
			c.Cohorts = append(c.Cohorts, Cohort{e.At, n})
		case Lost:
			c.Lost += n
			slices.Reverse(c.Cohorts)
			c.eldest(n)
			slices.Reverse(c.Cohorts)
		case MovedOut:
			c.MovedOut += n
			c.eldest(n)
		}
	}
	return c
}

// eldest takes pots away from the first cohorts.
func (c *Count) eldest(n int) {
	for i := range c.Cohorts {
		take := min(n, c.Cohorts[i].Pots)
		c.Cohorts[i].Pots -= take
		n -= take
	}
	c.Cohorts = slices.DeleteFunc(c.Cohorts, func(k Cohort) bool { return k.Pots == 0 })
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
