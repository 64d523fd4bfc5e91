package controller

import (
	"fmt"
	"time"

	"benchtide/schedule"
)

// watchClock has the floods follow what becomes of the wall clock.
func (c *Controller) watchClock() {
	k := c.clock.look(c.now)
	switch {
	case k.step != 0:
		c.clockStepped(k.step)
	case k.guessed:
		c.dateWords()
	case k.lost:
		c.planChanged("elapsed time")
	case k.back:
		c.trustAgain()
	}
	c.clock.reached(c.now)
	switch at := c.clock.tellAt(); {
	case c.now.Mono < at:
		c.wakeAt(at)
	default:
		c.tellOfDoubt()
	}
}

// trustAgain goes back to the calendar.
func (c *Controller) trustAgain() {
	c.rearm()
	c.measureOutage()
	c.tellOfOutage()
	c.unpark()
	c.dateAgain()
	c.planChanged("calendar")
	if c.clock.told {
		c.tellGone(ThisWeek, -1, "clock", Parts{Happened: "The clock is trusted again.", Done: "Floods follow the calendar."})
	}
	c.withdraw(ByElapsed)
	c.resumed = true // the crops are looked at once the slots are taken up
}

// tellOfDoubt tells of a clock that has not been trusted for a while.
func (c *Controller) tellOfDoubt() {
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

// today is the local date, as far as it is known.
func (c *Controller) today() schedule.Date {
	var first schedule.Date
	if c.clock.guesses() {
		first = c.firstDay()
	}
	return c.clock.today(c.setup.Calendar.Civil(c.clock.believed(c.now)), first)
}

// firstDay is the first on which every batch has a stage.
func (c *Controller) firstDay() schedule.Date {
	var d schedule.Date
	for i := range c.setup.Batches {
		k := &c.setup.Batches[i]
		d = max(d, k.Transplanted+schedule.Date(c.setup.Plans[k.Plan].Stages[0].FromDay))
	}
	return d
}
