package schedule

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

// SearchDays is how many days ahead After looks: a year and the days around it.
const SearchDays = 400

// Setup is all that a Calendar is made of.
type Setup struct {
	Zone    *time.Location // of the site
	Light   Light          // may be nil when no stage spreads its floods over it
	Plans   []Plan
	Batches []Batch
	Benches int // how many; their indices are their identity
}

// Calendar knows every slot of a site. It remembers the days it was asked
// about last, so one goroutine may use it at a time.
type Calendar struct {
	zone    *time.Location
	wall    *WallClock
	light   Light
	plans   []Plan
	batches []Batch
	benches []benchCalendar
	stages  []stageOf   // by batch
	trial   []TimeOfDay // scratch
}

// Slot is one planned flood: a bench and what the clock on its wall shows.
type Slot struct {
	Bench int
	Local Civil
}

// Planned is one slot with all that governs it.
type Planned struct {
	Slot     Slot
	Due      time.Time     // the instant; of a time that is skipped the end of the gap, of one shown twice the first
	Batch    int           // the batch that set the times, index in Setup.Batches
	Stage    int           // its stage
	PerDay   int           // floods of the bench on that date; may be 0 in Governs
	Apart    time.Duration // where a batch is not flooded every day: the mean time between the floods of the one that is flooded most often; else 0
	Hold     time.Duration // the shortest of the bench's batches
	Strength float64       // the lowest of the bench's batches
	CanWait  time.Duration // the shortest of the bench's batches
}

// NewCalendar returns the calendar of s. The error names every fault found:
// no zone, a plan without stages or with overlapping ones, a stage that does
// not say when, a batch on an unknown plan or bench, or floods spread over
// light that nothing describes.
func NewCalendar(s Setup) (*Calendar, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	c := &Calendar{
		zone:    s.Zone,
		wall:    NewWallClock(s.Zone),
		light:   s.Light,
		plans:   slices.Clone(s.Plans),
		batches: slices.Clone(s.Batches),
		benches: make([]benchCalendar, s.Benches),
		stages:  make([]stageOf, len(s.Batches)),
	}
	for i := range c.plans {
		c.plans[i].Stages = slices.Clone(c.plans[i].Stages)
		for j := range c.plans[i].Stages {
			at := slices.Clone(c.plans[i].Stages[j].At)
			slices.Sort(at)
			c.plans[i].Stages[j].At = slices.Compact(at)
		}
	}
	c.populate()
	return c, nil
}

// stageOf is the stage of a batch on the date that was asked for last.
type stageOf struct {
	known  bool
	on     Date
	index  int
	stands bool
}

// StageOn is that of a batch, with what Change put in force.
func (c *Calendar) StageOn(batch int, d Date) (int, bool) {
	k := &c.stages[batch]
	if !k.known || k.on != d {
		b := &c.batches[batch]
		k.known, k.on = true, d
		k.index, k.stands = b.StageOn(c.plans[b.Plan], d)
	}
	return k.index, k.stands
}

// populate puts the batches on their benches, with nothing worked out yet.
func (c *Calendar) populate() {
	clear(c.stages)
	for i := range c.benches {
		c.benches[i] = benchCalendar{lastOpen: math.MinInt32}
	}
	for i, b := range c.batches {
		c.benches[b.Bench].add(i, b)
	}
}

// Change puts what is new of a batch in force: its last day and its passages.
func (c *Calendar) Change(batch int, closed Date, passages []Passage) {
	c.batches[batch].Closed, c.batches[batch].Passages = closed, passages
	c.populate()
}

func (s Setup) validate() error {
	var errs []error
	fault := func(format string, args ...any) { errs = append(errs, fmt.Errorf("make calendar: "+format, args...)) }
	if s.Zone == nil {
		fault("no time zone; name the site's")
	}
	for _, p := range s.Plans {
		if err := p.validate(); err != nil {
			fault("plan %q: %w", p.Name, err)
		}
		spreads := slices.ContainsFunc(p.Stages, func(s Stage) bool { return s.Spread > 0 })
		if spreads && s.Light == nil {
			fault("plan %q spreads floods over the light hours, which nothing describes; give the lamps' hours or the site's place", p.Name)
		}
	}
	for _, b := range s.Batches {
		if b.Plan < 0 || b.Plan >= len(s.Plans) {
			fault("batch %q: plan %d is not one of %d", b.Name, b.Plan, len(s.Plans))
		}
		if b.Bench < 0 || b.Bench >= s.Benches {
			fault("batch %q: bench %d is not one of %d", b.Name, b.Bench, s.Benches)
		}
		if b.Closed != 0 && b.Closed < b.Transplanted {
			fault("batch %q: closed on %v, before it was transplanted on %v", b.Name, b.Closed, b.Transplanted)
		}
	}
	return errors.Join(errs...)
}

// Zone returns the site's zone.
func (c *Calendar) Zone() *time.Location { return c.zone }

// Civil returns what the wall clock on site shows at t, to the second.
func (c *Calendar) Civil(t time.Time) Civil { return c.wall.Civil(t) }

// After returns the bench's first slot strictly later than after, in civil
// time; false when there is none in the next SearchDays.
func (c *Calendar) After(bench int, after Civil) (Planned, bool) {
	b := &c.benches[bench]
	if after >= b.answeredFrom && after < b.answeredUntil {
		return b.answer, b.found
	}
	b.answer, b.found = c.search(bench, after)
	b.answeredFrom, b.answeredUntil = after, b.answer.Slot.Local
	if !b.found {
		b.answeredUntil = after.Date().AddDays(1).At(0)
	}
	return b.answer, b.found
}

func (c *Calendar) search(bench int, after Civil) (Planned, bool) {
	first := after.Date()
	last := min(first.AddDays(SearchDays), c.benches[bench].lastOpen)
	for d := first; d <= last; d++ {
		day := c.day(bench, d)
		for _, t := range day.times {
			if d.At(t) > after {
				return day.planned(t, c.zone), true
			}
		}
	}
	return Planned{}, false
}

// Between returns the slots of all benches with from ≤ slot < to, ordered by
// the instant they are due, then by bench, then by civil time.
func (c *Calendar) Between(from, to Civil) (slots []Planned) {
	for bench := range c.benches {
		slots = c.slots(slots, bench, from, to)
	}
	return inOrder(slots)
}

// On returns the slots of one bench, otherwise as Between.
func (c *Calendar) On(bench int, from, to Civil) []Planned {
	return inOrder(c.slots(nil, bench, from, to))
}

func (c *Calendar) slots(slots []Planned, bench int, from, to Civil) []Planned {
	last := min((to - 1).Date(), c.benches[bench].lastOpen)
	for d := from.Date(); d <= last; d++ {
		day := c.day(bench, d)
		for _, t := range day.times {
			if at := d.At(t); at >= from && at < to {
				slots = append(slots, day.planned(t, c.zone))
			}
		}
	}
	return slots
}

func inOrder(slots []Planned) []Planned {
	slices.SortFunc(slots, func(a, b Planned) int {
		return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.Slot.Bench, b.Slot.Bench), cmp.Compare(a.Slot.Local, b.Slot.Local))
	})
	return slots
}

// Governs returns what governs the bench on d, without a time: its slot is the
// midnight that begins d. PerDay is 0 when d has no flood; ok is false when no
// batch stands there in any stage.
func (c *Calendar) Governs(bench int, d Date) (Planned, bool) {
	day := c.day(bench, d)
	if !day.open {
		return Planned{}, false
	}
	return day.planned(0, c.zone), true
}

// benchCalendar is one bench's batches and what was last worked out for it.
type benchCalendar struct {
	batches  []int // in order of the file
	lastOpen Date  // after it no batch stands here

	days [2]day // even and odd dates, so that today and tomorrow are both at hand

	// The answer that After gives from answeredFrom to just before answeredUntil.
	answer                      Planned
	found                       bool
	answeredFrom, answeredUntil Civil
}

func (b *benchCalendar) add(index int, batch Batch) {
	b.batches = append(b.batches, index)
	b.lastOpen = max(b.lastOpen, batch.lastDay())
}
