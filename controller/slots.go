package controller

import (
	"time"

	"benchtide/schedule"
)

// nextSlot returns the first slot of bench b that is not yet taken up.
func (c *Controller) nextSlot(b int) (schedule.Planned, bool) {
	s := &c.benches[b]
	if !s.hasSlot {
		s.cursor, s.hasSlot = c.setup.Calendar.Civil(c.now.Wall.Add(-time.Second)), true
		s.base = s.cursor
		c.dirty = true
	}
	if !s.nextRead {
		s.next, s.hasNext = c.setup.Calendar.After(b, s.cursor)
		s.nextRead = true
	}
	if !s.hasNext {
		c.passEmptyDays(b)
	}
	return s.next, s.hasNext
}

// passEmptyDays moves the cursor of bench b over days without a slot, up to the
// wall clock: the calendar only looks so far ahead of it, and a clock that was
// set right after years would leave it there.
func (c *Controller) passEmptyDays(b int) {
	s := &c.benches[b]
	here := c.setup.Calendar.Civil(c.now.Wall.Add(-time.Second))
	for !s.hasNext && s.cursor.Date() < here.Date() {
		s.cursor = min(here, s.cursor.Date().AddDays(schedule.SearchDays).At(0))
		s.next, s.hasNext = c.setup.Calendar.After(b, s.cursor)
		c.dirty = true
	}
}

// slotJob makes the job of a slot that has come due. A slot that already had
// its outcome before the clock was set back keeps the plants watered but not
// the slot's identity.
func (c *Controller) slotJob(b int, slot schedule.Civil, due time.Time) job {
	j := c.newJob(b, BySchedule, due, 0)
	j.deadline = c.monoOf(c.deadline(b, slot, due))
	if c.benches[b].hadOutcome(slot) {
		j.flood.Cause = ByElapsed
		return j
	}
	j.flood.HasSlot, j.flood.Slot = true, slot
	return j
}

// deadline is when a slot's flood may no longer start: two hours after it was
// due, or one cycle before the bench's next later slot, whichever is earlier.
// Slots of several benches that coincide on a reservoir take turns in the
// order of the file: the two hours count from the last of them, and each gets
// at least its turn plus one cycle.
func (c *Controller) deadline(b int, slot schedule.Civil, due time.Time) time.Time {
	turn, last := c.turns(b, slot, due)
	end := due.Add(last + queueFor)
	own := c.setup.cycle(b, c.limits(b).MaxHold)
	if next, ok := c.laterDue(b, slot, due); ok {
		end = earlier(end, next.Add(-own))
	}
	return later(end, due.Add(turn+own))
}

// turns says how long after due the turn of bench b in its coinciding group
// begins, and that of the group's last.
func (c *Controller) turns(b int, slot schedule.Civil, due time.Time) (own, last time.Duration) {
	var sum time.Duration
	for _, other := range c.sharing(b) {
		if other != b && !c.coincides(other, slot, due) {
			continue
		}
		if other == b {
			own = sum
		}
		last = sum
		sum += c.setup.cycle(other, c.limits(other).MaxHold)
	}
	return own, last
}

// coincides reports whether bench b has a slot at the same civil time that is
// due at the same instant.
func (c *Controller) coincides(b int, slot schedule.Civil, due time.Time) bool {
	p, ok := c.setup.Calendar.After(b, slot-1)
	return ok && p.Slot.Local == slot && p.Due.Equal(due)
}

// laterDue is the due time of the bench's next slot that is due strictly later.
func (c *Controller) laterDue(b int, slot schedule.Civil, due time.Time) (time.Time, bool) {
	for range 4 {
		p, ok := c.setup.Calendar.After(b, slot)
		if !ok {
			return time.Time{}, false
		}
		if p.Due.After(due) {
			return p.Due, true
		}
		slot = p.Slot.Local
	}
	return time.Time{}, false
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
