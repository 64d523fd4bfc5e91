package controller

import (
	"slices"
	"time"

	"benchtide/schedule"
)

// why says what keeps a slot from flooding when it comes due.
type why uint8

const (
	floods      why = iota // nothing does
	comesAgain             // it had its outcome before the clock was set back, and wants no second flood: it gets no row
	isSkipped              // a person skipped it
	skipStands             // a person skipped the flood by elapsed time that stands for it
	floodStands            // a flood by elapsed time that counted stands for it
	isLate                 // it can no longer start before its deadline
)

// used is what slots further on cannot have any more: a skip without a slot, and
// the skip of a flood by elapsed time, leave out one slot each.
type used struct{ skips, stand int }

func unused() used { return used{stand: -1} }

// needed reports whether a slot of bench b floods when it comes due, and why not.
// It is the one rule for the slot that is due and for those to come; of these u
// holds what the slots before have used.
func (c *Controller) needed(b int, p *schedule.Planned, u *used) (bool, why) {
	s := &c.benches[b]
	late := !p.Due.After(c.now.Wall) && !c.deadline(b, p.Slot.Local, p.Due).After(c.now.Wall)
	if s.hadOutcome(p.Slot.Local) && (late || slices.Contains(s.leftOut, p.Slot.Local) || c.wateredFor(b, p)) {
		return false, comesAgain
	}
	if i := s.skipFor(p.Slot.Local, u.skips); i >= 0 {
		if s.skips[i].Slot == 0 {
			u.skips++
		}
		return false, isSkipped
	}
	if i := c.standFor(b, p); i >= 0 && i != u.stand {
		if !s.stands[i].Skipped {
			return false, floodStands
		}
		u.stand = i
		return false, skipStands
	}
	if late {
		return false, isLate
	}
	return true, floods
}

// skipFor is the skip that leaves out a slot: its own, else one that waits for
// the first to come and is not among the used; -1 without one.
func (s *bench) skipFor(slot schedule.Civil, used int) int {
	if i := s.skipOf(slot); i >= 0 {
		return i
	}
	for i := range s.skips {
		if s.skips[i].Slot != 0 {
			continue
		}
		if used == 0 {
			return i
		}
		used--
	}
	return -1
}

func (s *bench) skipOf(slot schedule.Civil) int {
	return slices.IndexFunc(s.skips, func(k Skip) bool { return k.Slot == slot && slot != 0 })
}

// nextFlood is the next flood of bench b that is needed, as things are. While
// floods follow elapsed time it has no slot.
func (c *Controller) nextFlood(b int) (schedule.Planned, bool) {
	if !c.clock.calendar() {
		return c.elapsedFlood(b, len(c.benches[b].skips))
	}
	p, ok := c.nextSlot(b)
	if ok && c.now.Wall.Sub(p.Due) > longLate {
		p, ok = c.setup.Calendar.After(b, c.setup.Calendar.Civil(c.now.Wall.Add(-longLate)))
	}
	for u := unused(); ok; p, ok = c.setup.Calendar.After(b, p.Slot.Local) {
		if needed, _ := c.needed(b, &p, &u); needed {
			break
		}
	}
	return p, ok
}

// longLate is after how long no slot can start any more, however many benches
// take turns: so many are passed over unlooked at after an outage.
const longLate = 48 * time.Hour

// spend is done with what left out the slot that has come due, and with skips
// that can leave out no other.
func (c *Controller) spend(b int, p *schedule.Planned, because why) {
	s, slot := &c.benches[b], p.Slot.Local
	switch because {
	case isSkipped:
		i := s.skipFor(slot, 0)
		if k := s.skips[i]; k.Named != slot && k.Named != 0 { // the clock may yet come back to it
			s.rememberLeftOut(k.Named)
		}
		s.skips = slices.Delete(s.skips, i, i+1)
		s.rememberLeftOut(slot)
	case skipStands:
		i := c.standFor(b, p)
		s.stands = slices.Delete(s.stands, i, i+1)
		s.rememberLeftOut(slot)
	}
	s.skips = slices.DeleteFunc(s.skips, func(k Skip) bool {
		return k.Slot != 0 && k.Slot <= slot || k.Due < c.now.Mono-maxPause
	})
}

// settleUnneeded gives a slot that has come due and is not needed its outcome.
func (c *Controller) settleUnneeded(j *job, because why) {
	j.flood.Ended = c.now.Wall
	switch because {
	case isSkipped:
		c.settle(&j.flood, Skipped, skippedByHand)
	case skipStands:
		c.settle(&j.flood, Skipped, skippedInstead)
	case floodStands:
		c.settle(&j.flood, Missed, floodedInstead)
	case isLate:
		reason := c.clock.awayReason(j.flood.Due)
		c.benches[j.flood.Bench].missed.add(j.flood.Due, reason)
		c.settle(&j.flood, Missed, reason)
	}
}
