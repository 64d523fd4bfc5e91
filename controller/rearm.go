package controller

import (
	"slices"
	"time"

	"benchtide/schedule"
)

// Stretch is the slots after one civil time up to another.
type Stretch struct {
	After schedule.Civil `json:"after"`
	To    schedule.Civil `json:"to"`
}

// rearmBeyond is how far back the wall clock may be set before its slots are
// taken up again: as much as any hour that comes twice, and no more than plants
// notice.
const rearmBeyond = 2 * time.Hour

// rearm sets the cursors right when the wall clock turns out to have been wrong.
// Slots that it had come to keep the outcome they had then, and floods at their
// times run without their identity, where the plants need them.
func (c *Controller) rearm() {
	far, back := c.clock.setBack(c.now)
	zone := c.setup.Calendar.Zone()
	here, reached := schedule.CivilIn(c.now.Wall.Add(-time.Second), zone), schedule.CivilIn(far, zone)
	right := min(here, reached)
	if far.IsZero() { // without any trusted time before, slots count from here
		right = here
	}
	for b := range c.benches {
		s := &c.benches[b]
		switch {
		case !s.hasSlot:
		case s.cursor > reached+astray:
			c.setRight(b, right)
		case back && here < s.cursor:
			s.before = Stretch{s.base, s.cursor}
			s.live(s.before)
			s.base, s.cursor, s.nextRead = here, here, false
			c.forgetLeftOut(b, here)
		}
	}
}

// stepUndone reports whether a step has brought the clock back to what it read
// before it was set back last, and then goes on from there: the slots between
// belong to a time that never was.
func (c *Controller) stepUndone(step time.Duration) bool {
	undone := c.clock.undoes(c.now, step)
	for b := range c.benches {
		s := &c.benches[b]
		if undone && s.before.To > s.cursor {
			s.live(Stretch{s.base, s.cursor})
			s.base, s.cursor, s.nextRead = s.before.After, s.before.To, false
		}
		s.before = Stretch{}
	}
	return undone
}

// astray is how far a cursor may be ahead of all that a trusted clock has read:
// the hour that comes twice, and some.
const astray = schedule.Civil(3 * 60 * 60)

// setRight takes a cursor back that no trusted clock has come to: the slots up
// to reached were taken up, and of those after it the one at the cursor alone
// has its row.
func (c *Controller) setRight(b int, reached schedule.Civil) {
	s := &c.benches[b]
	s.live(Stretch{s.cursor - 1, s.cursor})
	s.base, s.cursor, s.nextRead = min(s.base, reached), reached, false
	c.dirty = true
}

// maxLived bounds how many wrong futures are told apart.
const maxLived = 16

// live notes that the slots of a stretch have had their outcome.
func (s *bench) live(k Stretch) {
	s.lived = slices.DeleteFunc(s.lived, func(l Stretch) bool {
		touches := l.After <= k.To && k.After <= l.To
		if touches {
			k = Stretch{min(k.After, l.After), max(k.To, l.To)}
		}
		return touches
	})
	s.lived = append(s.lived, k)
	if len(s.lived) > maxLived {
		last := s.lived[maxLived]
		s.lived = s.lived[:maxLived]
		s.lived[0] = Stretch{min(last.After, s.lived[0].After), max(last.To, s.lived[0].To)}
	}
}

// hadOutcome reports whether a slot to be taken up has its row already.
func (s *bench) hadOutcome(slot schedule.Civil) bool {
	return slices.ContainsFunc(s.lived, func(k Stretch) bool { return k.After < slot && slot <= k.To })
}

// forgetLeftOut has the slots of bench b that a person left out flood again
// where they come after another flood, now that the clock has been set back to
// here: the person wanted the next flood left out, not one of the same date days
// later.
func (c *Controller) forgetLeftOut(b int, here schedule.Civil) {
	s := &c.benches[b]
	if len(s.leftOut) == 0 {
		return
	}
	last := slices.Max(s.leftOut)
	for at := here; ; {
		p, ok := c.setup.Calendar.After(b, at)
		if at = p.Slot.Local; !ok || at > last {
			return
		}
		u := unused()
		if needed, _ := c.needed(b, &p, &u); needed {
			s.leftOut = slices.DeleteFunc(s.leftOut, func(k schedule.Civil) bool { return k > at })
			return
		}
	}
}

// wateredFor reports whether a flood of bench b that counted is no more than
// half an interval older than the slot is due, and serves every crop until the
// slot after it, even if that one waits for its turn and fills as slowly as a fill may.
// A crop that is not on the bench yet has been served by no flood.
func (c *Controller) wateredFor(b int, p *schedule.Planned) bool {
	after, ok := c.setup.Calendar.After(b, p.Slot.Local)
	if !ok {
		return false
	}
	from := c.monoOf(p.Due) - intervalOf(*p)/2
	turn, _ := c.turns(b, after.Slot.Local, after.Due)
	until := c.monoOf(after.Due) + turn + c.limits(b).MaxRun(after.Hold)
	serves := true
	c.onBench(b, func(i int, k *cropClock) {
		if c.stageOn(i, p.Slot.Local.Date()) == noStage {
			return
		}
		l, grows := c.limit(i)
		last := *k
		if c.benches[b].mayCount() {
			last.since = c.now.Mono
		}
		serves = serves && grows && last.serves(from, until, l.wait)
	})
	return serves
}

// mayCount reports whether a flood is under way that is taken to count: nobody
// has stopped it while it filled, and it has not ended without a hold.
func (s *bench) mayCount() bool {
	r := &s.run
	return s.phase != Rest && (r.flood.Counted || !r.seenStop && (r.person == "" || r.seenFull))
}
