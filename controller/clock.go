package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// clockWatch follows the wall clock against the boot-time clock: whether it is
// trusted, and whether it has stepped.
type clockWatch struct {
	trusted bool          // the calendar is in force
	mono    time.Duration // the last turn's clocks
	wall    time.Time
	since   time.Time     // the wall clock is trusted, and without a step, since here
	known   time.Time     // the newest trusted wall time; zero when there never was one
	knownAt time.Duration // the boot-time clock then
	far     time.Time     // how far the trusted wall clock had come, since it was last found to have been wrong
	regain  time.Time     // when trust came back last; zero while it never was lost
	away    string        // why slots before since could not be flooded
	doubted time.Duration // the boot-time clock when trust was lost, or the program started without it
	told    bool          // a person knows that the clock is not trusted
}

// doubtGrace is how long a clock may go without trust before a person hears of
// it: a board without a clock chip needs a minute after power-on.
const doubtGrace = 10 * time.Minute

// stepLimit is how far the wall clock may drift against the boot-time clock
// between two turns before it counts as a step: well above what a
// synchronising clock slews.
const stepLimit = 2 * time.Second

func (w *clockWatch) begin(now safety.Now) {
	*w = clockWatch{trusted: now.Trusted, mono: now.Mono, wall: now.Wall, since: now.Wall, doubted: now.Mono, away: "the program or its power was off"}
}

// calendar reports whether slots are in force; otherwise floods follow elapsed
// time.
func (w *clockWatch) calendar() bool { return w.trusted }

// awayReason says why a slot that was due then was not flooded in time.
func (w *clockWatch) awayReason(due time.Time) string {
	if due.Before(w.since) {
		return w.away
	}
	return "the queue deadline passed"
}

// floodedInstead reports whether a counted flood by elapsed time stands for a
// slot that was due while, or soon after, the clock was not trusted.
func (w *clockWatch) floodedInstead(c *Controller, b int, due time.Time) bool {
	began := c.benches[b].elapsedAt
	if w.regain.IsZero() || began == 0 {
		return false
	}
	p, ok := c.setup.Calendar.Governs(b, schedule.CivilIn(due, c.setup.Calendar.Zone()).Date())
	if !ok {
		return false
	}
	half := intervalOf(p) / 2
	return began > c.monoOf(due.Add(-half))
}

// watchClock notices steps of the wall clock and changes of trust.
func (c *Controller) watchClock() {
	w := &c.clock
	step := c.now.Wall.Sub(w.wall) - (c.now.Mono - w.mono)
	w.mono, w.wall = c.now.Mono, c.now.Wall
	if c.now.Trusted {
		w.known, w.knownAt = c.now.Wall, c.now.Mono
	}
	stepped := step > stepLimit || step < -stepLimit
	if stepped && w.trusted && c.now.Trusted {
		c.clockStepped(step)
	}
	switch {
	case w.trusted && !c.now.Trusted:
		w.trusted, w.doubted, w.told = false, c.now.Mono, false
		c.planChanged("elapsed time")
	case !w.trusted && c.now.Trusted:
		c.trustAgain()
	}
	if w.trusted {
		w.far = later(w.far, c.now.Wall)
	}
	if !w.trusted && !w.told {
		c.tellOfDoubt()
	}
}

// trustAgain goes back to the calendar.
func (c *Controller) trustAgain() {
	w := &c.clock
	w.trusted, w.since, w.regain = true, c.now.Wall, c.now.Wall
	w.away = "the clock was not trusted"
	c.rearm()
	c.measureOutage()
	c.unpark()
	c.planChanged("calendar")
	if w.told {
		c.tellGone(ThisWeek, -1, "clock", Parts{Happened: "The clock is trusted again.", Done: "Floods follow the calendar."})
	}
	c.withdraw(ByElapsed)
	c.resumed = true // the crops are looked at once the slots are taken up
}

// tellOfDoubt tells of a clock that has not been trusted for a while.
func (c *Controller) tellOfDoubt() {
	at := c.clock.doubted + doubtGrace
	if c.now.Mono < at {
		c.wakeAt(at)
		return
	}
	c.clock.told = true
	c.tellOfOutage()
	c.tell(Today, -1, "clock", Parts{
		Happened: "The clock is not trusted.", Done: "Floods follow elapsed time at each stage's rate until it is.",
		Do: "Check the network or the clock chip.",
	})
}

func (c *Controller) planChanged(plan string) {
	c.emit(Event{Kind: PlanChanged, Bench: -1, Output: -1, Text: plan})
	c.dirty = true
}

// clockStepped goes on after a step of a trusted clock. Slots jumped over are
// flooded late or settled as missed; slots already taken up are not repeated.
func (c *Controller) clockStepped(step time.Duration) {
	c.clock.since, c.clock.away = c.now.Wall, "the clock stepped over it"
	c.clock.far = later(c.clock.far, c.now.Wall.Add(-step)) // reached since the last turn
	c.rearm()
	c.emit(Event{Kind: ClockStepped, Bench: -1, Output: -1, Text: fmt.Sprintf("%+.0f s", step.Seconds())})
	c.reconsider()
	c.dirty = true
}

// rearmBeyond is how far back the wall clock may be set before its slots are
// taken up again: as much as any hour that comes twice, and no more than plants
// notice.
const rearmBeyond = 2 * time.Hour

// rearm sets the cursors back when the wall clock turns out to have been in a
// wrong future. The slots in between keep the outcome they had then, and floods
// at their times run without their identity, where the plants need them.
func (c *Controller) rearm() {
	w := &c.clock
	if w.far.Sub(c.now.Wall) <= rearmBeyond {
		return
	}
	zone := c.setup.Calendar.Zone()
	here, reached := schedule.CivilIn(c.now.Wall.Add(-time.Second), zone), schedule.CivilIn(w.far, zone)
	w.far = c.now.Wall
	for b := range c.benches {
		s := &c.benches[b]
		if s.hasSlot && here < s.cursor {
			s.relived = max(s.relived, s.cursor)
			s.cursor, s.nextRead = here, false
			c.carrySkip(b, here, reached)
		}
	}
}

// carrySkip has a skip of bench b mean the next flood still, when the clock has
// been set back to here from having reached another time: the person wanted that
// one left out, not one of the same date days later. One that has been left out
// is done with.
func (c *Controller) carrySkip(b int, here, reached schedule.Civil) {
	s := &c.benches[b]
	for at := here; ; {
		p, ok := c.setup.Calendar.After(b, at)
		if at = p.Slot.Local; !ok || at >= s.skipped {
			return
		}
		if c.wateredFor(b, &p) {
			continue // no flood would run then
		}
		if s.skipped <= reached {
			at = 0
		}
		s.skipped = at
		return
	}
}

// servedBefore reports whether a slot that has come due comes a second time
// while the flood it had at the first, or one since, still stands for it; or was
// skipped by a person.
func (c *Controller) servedBefore(b int, p *schedule.Planned) bool {
	s := &c.benches[b]
	return p.Slot.Local <= s.relived && (p.Slot.Local == s.skipped || c.wateredFor(b, p))
}

// wateredFor reports whether a flood of bench b that counted is no more than
// half an interval older than the slot is due, and serves every crop until the
// slot after it, even if that one fills as slowly as a fill may.
func (c *Controller) wateredFor(b int, p *schedule.Planned) bool {
	after, ok := c.setup.Calendar.After(b, p.Slot.Local)
	if !ok {
		return false
	}
	from := c.monoOf(p.Due) - intervalOf(*p)/2
	until := c.monoOf(after.Due) + c.limits(b).Fill*3/2 + after.Hold
	for i := range c.crops {
		if c.setup.Batches[i].Bench != b {
			continue
		}
		wait, grows := c.canWait(i)
		if since := c.crops[i].since; grows && (since < from || since+wait < until) {
			return false
		}
	}
	return true
}

// takeUpElapsed queues a flood by elapsed time when the clock is not trusted
// and the bench's interval has passed.
func (c *Controller) takeUpElapsed(b int) {
	s := &c.benches[b]
	p, ok := c.governing(b)
	if !ok || s.phase != Rest || len(s.queue) > 0 {
		return
	}
	due := s.elapsedFrom + intervalOf(p)
	if c.now.Mono < due {
		c.wakeAt(due)
		return
	}
	j := c.newJob(b, ByElapsed, c.now.Wall, queueFor)
	j.flood.Hold, j.flood.Strength = p.Hold, p.Strength
	c.notBefore(b, &j)
	s.elapsedFrom = c.now.Mono
	s.queue = append(s.queue, j)
	c.dirty = true
}

// governing is the rule of bench b for today.
func (c *Controller) governing(b int) (schedule.Planned, bool) {
	return c.setup.Calendar.Governs(b, c.today())
}

// today is the local date. While the clock is not trusted it is that of the
// newest trusted time and the time powered since; without one, what the clock
// shows, but no day before every batch is on its bench, so that none goes dry
// for want of a date.
func (c *Controller) today() schedule.Date {
	t := c.now.Wall
	if !c.clock.trusted {
		if c.clock.known.IsZero() {
			return max(c.firstDay(), schedule.CivilIn(t, c.setup.Calendar.Zone()).Date())
		}
		t = c.clock.known.Add(c.now.Mono - c.clock.knownAt)
	}
	return schedule.CivilIn(t, c.setup.Calendar.Zone()).Date()
}

func (c *Controller) firstDay() schedule.Date {
	var d schedule.Date
	for i := range c.setup.Batches {
		k := &c.setup.Batches[i]
		d = max(d, k.Transplanted+schedule.Date(c.setup.Plans[k.Plan].Stages[0].FromDay))
	}
	return d
}
