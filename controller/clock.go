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
	before  time.Time     // what the clock would read had it not been set back last; by its reading at boot-time 0, zero without that
	far     time.Time     // how far the trusted wall clock had come, since it was last found to have been wrong
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
	if stepped && !w.trusted && !c.now.Trusted && w.known.IsZero() {
		c.dateWords() // today is what the clock shows, as long as it never was trusted
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
	w.trusted, w.since = true, c.now.Wall
	w.away = "the clock was not trusted"
	c.rearm()
	c.measureOutage()
	c.tellOfOutage()
	c.unpark()
	c.dateAgain()
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
	if !c.stepUndone(step) {
		c.rearm()
	}
	c.dateAgain()
	c.emit(Event{Kind: ClockStepped, Bench: -1, Output: -1, Text: fmt.Sprintf("%+.0f s", step.Seconds())})
	c.reconsider()
	c.dirty = true
}

func (c *Controller) dateWords() {
	for i := range c.setup.Batches {
		if !c.benches[c.setup.Batches[i].Bench].gap.open {
			c.keepWord(i)
		}
	}
}

// dateAgain brings what hangs on the wall clock in line with one that was set.
func (c *Controller) dateAgain() {
	c.dateWords()
	for b := range c.benches {
		c.redate(b)
		c.rebind(b)
	}
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
	if len(s.skips) > 0 {
		if !c.outage.open() { // when it is due is about to be known
			c.skipElapsed(b, &p)
		}
		return
	}
	j := c.newJob(b, ByElapsed, c.now.Wall, queueFor)
	j.byRate = true
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
	d := schedule.CivilIn(c.believed(), c.setup.Calendar.Zone()).Date()
	if !c.clock.trusted && c.clock.known.IsZero() {
		d = max(c.firstDay(), d)
	}
	return d
}

// believed is what the time is taken to be.
func (c *Controller) believed() time.Time {
	if c.clock.trusted || c.clock.known.IsZero() {
		return c.now.Wall
	}
	return c.clock.known.Add(c.now.Mono - c.clock.knownAt)
}

func (c *Controller) firstDay() schedule.Date {
	var d schedule.Date
	for i := range c.setup.Batches {
		k := &c.setup.Batches[i]
		d = max(d, k.Transplanted+schedule.Date(c.setup.Plans[k.Plan].Stages[0].FromDay))
	}
	return d
}
