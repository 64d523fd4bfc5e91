package schedule

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"
)

// ConflictKind says what a bench withholds from a batch.
type ConflictKind uint8

// The kinds of conflict.
const (
	StrengthConflict ConflictKind = iota // some get a weaker solution than their stage asks for
	HoldConflict                         // some get a shorter hold than their stage asks for
	GapConflict                          // a batch waits longer than it can
)

func (k ConflictKind) String() string { return [...]string{"strength", "hold", "gap"}[k] }

// Conflict is one thing that a bench does not give its batches, over
// consecutive dates.
type Conflict struct {
	Kind     ConflictKind
	Bench    int
	Batches  []int // those concerned, indices in Setup.Batches
	From, To Date  // both inclusive

	// Of a gap: the longest wait that reaches into these dates, and the wait
	// that the batch stands; Change where it lies between the last flood of a stage
	// and the first of the next.
	Gap, CanWait time.Duration
	Change       bool

	Detail string // in words, for a person
}

// Conflicts returns what each bench withholds from its batches on the dates
// from to to, both inclusive, ordered by bench and first date. A batch's wait
// counts from its first flood, or from the end of its first day when that
// brings none.
func (c *Calendar) Conflicts(from, to Date) []Conflict {
	var found []Conflict
	for bench := range c.benches {
		found = append(found, c.conflictsOn(bench, from, to)...)
	}
	return found
}

// ConflictsBegun returns those of the dates from to to, as Conflicts does, each with
// the date on which it really ends, at most a year later.
func (c *Calendar) ConflictsBegun(from, to Date) []Conflict {
	return slices.DeleteFunc(c.Conflicts(from, to.AddDays(366)), func(k Conflict) bool { return k.From > to })
}

func (c *Calendar) conflictsOn(bench int, from, to Date) []Conflict {
	var found conflicts
	flooded := map[int]time.Time{} // by batch: when it last was
	for d := from.AddDays(-c.longestWait(bench)); d <= to; d++ {
		tenants := c.tenants(bench, d)
		for _, s := range tenants {
			wait := c.waitOn(bench, d, s.batch, flooded)
			if wait > s.stage.CanWait && d >= from {
				found.add(Conflict{Kind: GapConflict, Bench: bench, Batches: []int{s.batch}, From: d, To: d, Gap: wait, CanWait: s.stage.CanWait,
					Change: c.beginsOn(s.batch, d)})
			}
		}
		if d >= from {
			c.disagreements(&found, bench, d, tenants)
		}
	}
	for i := range found {
		if f := &found[i]; f.Kind == GapConflict {
			f.Change = f.Change && f.From == f.To
			f.Detail = f.waits(c.batches[f.Batches[0]].Name)
		}
	}
	return found
}

// beginsOn reports whether the batch comes from one stage into the next on d.
func (c *Calendar) beginsOn(batch int, d Date) bool {
	before, _ := c.stageOn(batch, d.AddDays(-1))
	now, stage := c.stageOn(batch, d)
	return stage != nil && now > before
}

// waits says of a gap how long the batch waits.
func (f *Conflict) waits(batch string) string {
	if f.Change {
		return fmt.Sprintf("%s waits %s from the last flood of the stage before to the first of the next, and stands %s", batch, inHours(f.Gap), inHours(f.CanWait))
	}
	return fmt.Sprintf("%s waits up to %s for a flood and stands %s", batch, inHours(f.Gap), inHours(f.CanWait))
}

// longestWait returns in days, rounded up, how far before a date the flood can
// lie that a batch of the bench still lives on.
func (c *Calendar) longestWait(bench int) int {
	var longest time.Duration
	for _, i := range c.benches[bench].batches {
		for _, s := range c.plans[c.batches[i].Plan].Stages {
			longest = max(longest, s.CanWait)
		}
	}
	return min(int(longest.Hours()/24)+2, SearchDays)
}

// tenant is a batch on its bench, in a stage.
type tenant struct {
	batch int
	stage *Stage
}

func (c *Calendar) tenants(bench int, d Date) []tenant {
	var all []tenant
	for _, i := range c.benches[bench].batches {
		if _, stage := c.stageOn(i, d); stage != nil {
			all = append(all, tenant{i, stage})
		}
	}
	return all
}

// waitOn returns the batch's longest wait that ends on d or goes on at its
// end, and moves flooded on to the end of d.
func (c *Calendar) waitOn(bench int, d Date, batch int, flooded map[int]time.Time) time.Duration {
	var longest time.Duration
	last, known := flooded[batch]
	waited := func(until time.Time) {
		if known {
			longest = max(longest, until.Sub(last))
		}
	}
	today := c.day(bench, d)
	for _, t := range today.times {
		due := d.At(t).In(c.zone)
		waited(due)
		last, known = due, true
	}
	midnight := d.AddDays(1).At(0).In(c.zone)
	waited(midnight)
	if !known {
		last = midnight
	}
	flooded[batch] = last
	return longest
}

// disagreements adds what the stages of the batches standing on d ask for
// differently.
func (c *Calendar) disagreements(found *conflicts, bench int, d Date, all []tenant) {
	ask := func(kind ConflictKind, what string, of func(*Stage) float64, unit string) {
		least, most := math.Inf(1), math.Inf(-1)
		var batches []int
		var asked []string
		for _, s := range all {
			v := of(s.stage)
			least, most = min(least, v), max(most, v)
			batches = append(batches, s.batch)
			asked = append(asked, fmt.Sprintf("%s for %s %s", c.batches[s.batch].Name, tenths(v), unit))
		}
		if least < most {
			found.add(Conflict{Kind: kind, Bench: bench, Batches: batches, From: d, To: d,
				Detail: fmt.Sprintf("all get %s %s %s; their stages ask %s", what, tenths(least), unit, inWords(asked))})
		}
	}
	ask(StrengthConflict, "strength", func(s *Stage) float64 { return s.Strength * 100 }, "%")
	ask(HoldConflict, "hold", func(s *Stage) float64 { return s.Hold.Minutes() }, "min")
}

// conflicts are those of one bench, ordered by first date.
type conflicts []Conflict

// add notes a conflict of one date, as part of the one of the day before where
// that is the same.
func (cs *conflicts) add(n Conflict) {
	for i := range *cs {
		c := &(*cs)[i]
		if c.To.AddDays(1) == n.From && c.Kind == n.Kind && slices.Equal(c.Batches, n.Batches) &&
			c.CanWait == n.CanWait && c.Detail == n.Detail {
			c.To, c.Gap = n.To, max(c.Gap, n.Gap)
			return
		}
	}
	*cs = append(*cs, n)
}

// tenths writes v with at most one decimal.
func tenths(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// inHours writes d in hours and whole minutes.
func inHours(d time.Duration) string {
	if m := d % time.Hour / time.Minute; m != 0 {
		return fmt.Sprintf("%d h %d min", d/time.Hour, m)
	}
	return fmt.Sprintf("%d h", d/time.Hour)
}
