package controller

import (
	"slices"
	"time"

	"benchtide/safety"
)

// job is a flood that is due and waits for its turn, or for its retry.
type job struct {
	flood    Flood
	ready    time.Duration // boot-time clock from which it may start
	deadline time.Duration // boot-time clock after which it may not
	refusal  safety.Refusal
	told     bool   // a person was told of the refusal
	byRate   bool   // no slot asked for it but elapsed time
	reason   string // outcome so far of a job that waits for its retry
	outcome  Outcome
}

// queueFor is how long a flood waits in the queue at the most.
const queueFor = 2 * time.Hour

// settledPerTurn bounds the work of one turn after a long outage or a clock
// step: the rest follows in the next turns.
const settledPerTurn = 64

// takeUp moves slots that have come due into the queue of bench b, and settles
// those whose deadline is already past.
func (c *Controller) takeUp(b int) {
	s := &c.benches[b]
	if !c.clock.calendar() {
		c.takeUpElapsed(b)
		return
	}
	for n := 0; ; n++ {
		p, ok := c.nextSlot(b)
		if !ok || c.now.Wall.Before(p.Due) {
			c.tellOfMissed(b)
			c.wakeAtWall(p.Due)
			return
		}
		if n == settledPerTurn {
			c.wakeSoon()
			return
		}
		s.cursor, s.nextRead = p.Slot.Local, false
		c.dirty = true
		u := unused()
		needed, because := c.needed(b, &p, &u)
		if because == comesAgain {
			c.rebind(b) // no skip is spent on a slot that would not flood
			continue
		}
		j := c.slotJob(b, p.Slot.Local, p.Due)
		j.flood.Hold, j.flood.Strength = p.Hold, p.Strength
		c.withdrawFrom(b, ByCatchUp)
		c.spend(b, &p, because)
		if needed {
			s.queue, s.owed = append(s.queue, j), false
		} else {
			c.settleUnneeded(&j, because)
		}
		c.forgetStands(b, &p)
	}
}

// missed are slots in a row that came due while they could not be flooded.
type missed struct {
	count       int
	first, last time.Time
	reason      string // of the last
}

func (m *missed) add(due time.Time, reason string) {
	if m.count == 0 {
		m.first = due
	}
	m.count++
	m.last, m.reason = due, reason
}

// addHand puts a flood asked for by a person at the head of the queue.
func (c *Controller) addHand(b int, hold time.Duration, strength float64) {
	j := c.newJob(b, ByHand, c.now.Wall, queueFor)
	j.flood.Hold, j.flood.Strength = hold, strength
	s := &c.benches[b]
	s.queue = slices.Insert(s.queue, 0, j)
	c.dirty = true
}

func (c *Controller) newJob(b int, cause Cause, due time.Time, wait time.Duration) job {
	j := job{
		flood:    Flood{ID: c.nextID, Bench: b, Due: due, Cause: cause},
		ready:    c.now.Mono,
		deadline: c.now.Mono + wait,
	}
	c.nextID++
	return j
}

// settleOverdue gives an outcome to queued floods whose deadline has passed.
func (c *Controller) settleOverdue(b int) {
	s := &c.benches[b]
	kept := s.queue[:0]
	for i := range s.queue {
		j := s.queue[i]
		if j.deadline > c.now.Mono {
			c.wakeAt(j.deadline)
			kept = append(kept, j)
			continue
		}
		s.owed = s.owed || j.flood.Cause != ByHand && j.outcome == ""
		c.closeQueued(&j)
	}
	s.queue = kept
}

// makeUp queues a catch-up flood on bench b once what kept a flood from starting
// has passed, be it a neighbour's water or an empty reservoir, where the crop
// cannot wait for the next slot.
func (c *Controller) makeUp(b int) {
	s := &c.benches[b]
	if !s.owed || s.phase != Rest || len(s.queue) > 0 || c.occupied(c.limits(b).Reservoir) {
		return
	}
	if r := c.refusal(b, &job{}); r.Refused() && r.Interlock != safety.MinRest {
		c.wakeAt(r.Until)
		return
	}
	s.owed = false
	c.reconsiderBench(b)
}

// closeQueued ends a flood that waited in the queue until its deadline.
func (c *Controller) closeQueued(j *job) {
	switch {
	case j.outcome != "":
		c.closeRun(&j.flood, j.outcome, j.reason+"; "+refusedRetry+refusalText(j.refusal))
	case j.refusal.Refused():
		c.closeUnrun(j, Refused, refusalText(j.refusal))
	default:
		c.closeBehind(j)
	}
}

// closeBehind ends a flood that nobody asked the guard about, since another one
// was before it: perhaps for the same reason.
func (c *Controller) closeBehind(j *job) {
	if r := c.refusal(j.flood.Bench, j); r.Refused() && r.Interlock != safety.MinRest {
		c.closeUnrun(j, Refused, refusalText(r))
		return
	}
	c.closeUnrun(j, Missed, "the reservoir was not free before the deadline")
}

// closeUnrun ends a flood whose pump never ran.
func (c *Controller) closeUnrun(j *job, o Outcome, reason string) {
	j.flood.Ended = c.now.Wall
	c.settle(&j.flood, o, reason)
	if !j.told {
		c.tellOfEnd(&j.flood)
	}
}

// closeEarly ends a flood that is given up before its time: as interrupted where
// its pump ran, be it in the attempt before, else as unrun says.
func (c *Controller) closeEarly(j *job, unrun Outcome, reason string) {
	if j.flood.Started.IsZero() {
		c.closeUnrun(j, unrun, reason)
		return
	}
	j.flood.Ended = c.now.Wall
	c.closeRun(&j.flood, Interrupted, reason)
}

// closeRun ends a flood whose pump ran.
func (c *Controller) closeRun(f *Flood, o Outcome, reason string) {
	c.settle(f, o, reason)
	c.tellOfEnd(f)
}

// settle gives a flood its one outcome.
func (c *Controller) settle(f *Flood, o Outcome, reason string) {
	f.Outcome, f.Reason = o, reason
	s := &c.benches[f.Bench]
	if o == Proven {
		s.lastProven, s.provenAt = f.Ended, c.now.Mono
	}
	switch {
	case f.StoodFor():
	case o == Skipped:
		if f.Cause != ByHand {
			s.elapsedFrom = c.now.Mono
			c.wantedDry(f.Bench)
		}
	default:
		s.last = *f
		if !f.Counted && f.Cause != ByHand {
			c.missedWater(f.Bench, c.wantedAt(f))
		}
	}
	c.emitFlood(FloodEnded, f)
}

// wantedAt is the time of the boot-time clock at which a flood that ends now was
// due; about when its turn came, where a clock that has been set back dates it in
// the future.
func (c *Controller) wantedAt(f *Flood) time.Duration {
	if due := c.monoOf(f.Due); due <= c.now.Mono {
		return due
	}
	return c.now.Mono - c.interval(f.Bench)/2
}

func refusalText(r safety.Refusal) string {
	if !r.Refused() {
		return "not started"
	}
	return reason(r.Interlock, r.Detail)
}
