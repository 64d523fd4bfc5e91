package controller

import (
	"slices"
	"time"

	"benchtide/schedule"
)

// Said is a person's word that holds from the day on which it was given: a stage
// entered, or a batch closed. Should the clock turn out to have been wrong, that
// day is another date, and the word goes with it.
type Said struct {
	At      time.Duration `json:"at"`      // boot-time clock
	Read    time.Time     `json:"read"`    // what the time was taken to be
	Doubt   bool          `json:"doubt"`   // the clock was not trusted
	Passage int           `json:"passage"` // index in the batch's passages; -1 for its last day
	Days    schedule.Date `json:"days"`    // from the day of the word to the last day
}

// lastDay is the Passage of a word on the last day.
const lastDay = -1

// say notes that a word on batch i holds from today on.
func (c *Controller) say(i, passage int, days schedule.Date) {
	k := &c.progress[i]
	k.said = slices.DeleteFunc(k.said, func(s Said) bool { return s.Passage == passage })
	k.said = append(k.said, Said{At: c.now.Mono, Read: c.clock.believed(c.now), Doubt: !c.clock.trusted, Passage: passage, Days: days})
}

// sayClosed notes a last day that is meant from today on, and returns it as the
// program counts the days: the person reads them off a clock that may be another
// day's. One that is further from today is a date that the person knows.
func (c *Controller) sayClosed(i int, last schedule.Date) schedule.Date {
	k := &c.progress[i]
	k.said = slices.DeleteFunc(k.said, func(s Said) bool { return s.Passage == lastDay })
	shown := c.setup.Calendar.Civil(c.now.Wall).Date()
	for _, today := range [...]schedule.Date{shown, c.today()} {
		if days := last - today; last != 0 && days >= -1 && days <= 1 {
			c.say(i, lastDay, days)
			return c.today() + days
		}
	}
	return last
}

// keepWord brings the dates of what was said of batch i in line with a clock
// that was set.
func (c *Controller) keepWord(i int) {
	k, b := &c.progress[i], &c.setup.Batches[i]
	moved := false
	for n := range k.said {
		s := &k.said[n]
		is := c.wallOf(s.At)
		s.Doubt = s.Doubt && !c.clock.trusted
		if is.Sub(s.Read).Abs() <= slewed {
			continue
		}
		s.Read = is
		on := c.setup.Calendar.Civil(is).Date()
		switch {
		case s.Passage == lastDay:
			moved = moved || k.closed != on+s.Days
			k.closed = on + s.Days
			b.Closed = k.closed
		case s.Passage < len(b.Passages):
			moved = moved || b.Passages[s.Passage].On != on
			b.Passages = slices.Clone(b.Passages)
			b.Passages[s.Passage].On = on
		}
	}
	if moved {
		c.changed(i)
		c.emptied(b.Bench)
	}
}

// forgetWords drops what cannot be dated any more, after outages g whose length
// will never be known. What was said without a trusted clock is wrong in any
// case, and better dated about right. What bears a date at which it cannot have
// been said yet by the clock as it is now was dated by a wrong one: it was said
// no later than if the outages had been of no length.
func (c *Controller) forgetWords(b int, g *gap) {
	for i := range c.progress {
		if k := &c.progress[i]; c.setup.Batches[i].Bench == b {
			k.said = slices.DeleteFunc(k.said, func(s Said) bool { return !s.Doubt && !c.saidAhead(&s, g) })
			for n := range k.said {
				if s := &k.said[n]; c.saidAhead(s, g) {
					s.At = g.latest(s.At)
				}
			}
		}
	}
}

// saidAhead reports whether a word bears a date that the clock as it is now had
// not come to when it was said.
func (c *Controller) saidAhead(s *Said, g *gap) bool {
	return s.Read.Sub(c.wallOf(g.latest(s.At))) > slewed
}
