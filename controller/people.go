package controller

import (
	"errors"
	"fmt"
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// handsInEvery is how often a person is reminded that hands-in still keeps the
// floods off.
const handsInEvery = time.Hour

func (c *Controller) watchHandsIn() {
	switch on := c.view.HandsIn; {
	case on && !c.handsIn:
		c.handsInNudge = c.now.Mono + handsInEvery
		c.emit(Event{Kind: HandsInBegan, Bench: -1, Output: -1})
	case !on && c.handsIn:
		c.emit(Event{Kind: HandsInEnded, Bench: -1, Output: -1})
		c.handsIn = false
		c.reconsider()
	case on && c.now.Mono >= c.handsInNudge:
		c.handsInNudge += handsInEvery
		c.tell(Today, -1, "hands-in", Parts{Happened: "Hands-in is still on: nothing floods.", Do: "End it when nobody works in the benches."})
	}
	c.handsIn = c.view.HandsIn
	if c.handsIn {
		c.wakeAt(c.handsInNudge)
	}
}

// watchLatch reconsiders the crop when a person has reset the bench.
func (c *Controller) watchLatch(b int) {
	latched := len(c.view.Benches[b].Latched) > 0
	was := c.benches[b].wasLatched
	c.benches[b].wasLatched = latched
	if was && !latched {
		t := &c.tanks[c.limits(b).Reservoir]
		t.Loss, t.Voided, c.benches[b].slow = loss{}, true, slow{} // a person has had hands in its water
		c.reconsiderBench(b)
	}
}

// Flood asks for a flood of bench b by hand. A hold of 0 means that of the
// day's stage. It ends by itself, and every interlock stays in force.
func (c *Controller) Flood(now safety.Now, b int, hold time.Duration) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	s := &c.benches[b]
	if s.phase != Rest || len(s.queue) > 0 && s.queue[0].flood.Cause == ByHand {
		return fmt.Errorf("flood %s: a flood is under way or asked for already", c.called(b))
	}
	p, ok := c.governing(b)
	switch {
	case hold < 0 || hold > c.limits(b).MaxHold && c.limits(b).MaxHold > 0:
		return fmt.Errorf("flood %s: a hold of %s is outside 0 to %s", c.called(b), safety.Spell(hold), safety.Spell(c.limits(b).MaxHold))
	case hold == 0 && !ok:
		return fmt.Errorf("flood %s: no batch has a stage today; give a hold", c.called(b))
	case hold == 0:
		hold = p.Hold
	}
	c.addHand(b, hold, p.Strength)
	if s.tap.Act == tapStop {
		s.tap = Tap{} // a stop from now on means this flood
	}
	return nil
}

// stoppedBefore is the reason of a flood that a person stopped before its pump
// ran.
const stoppedBefore = "stopped by hand before it began"

// StopFlood ends the flood under way on bench b and withdraws those that wait for
// their turn: no water comes until another one is asked for, or due.
func (c *Controller) StopFlood(now safety.Now, b int) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	s := &c.benches[b]
	stopped := false
	switch s.phase {
	case Filling, Holding:
		s.run.person, stopped = "stopped by hand", true
		c.tap(b, tapStop, &schedule.Planned{Due: s.run.flood.Due})
	case Recording:
		s.phase, stopped = Rest, true
		c.withdrawn(b, &s.run.job)
	}
	if !c.withdrawWaiting(b) && !stopped {
		return fmt.Errorf("stop %s: its pump is not running and no flood waits", c.called(b))
	}
	return nil
}

// withdrawWaiting withdraws the floods that wait for their turn on bench b. A
// second touch of the button finds nothing, and is none the worse for it.
func (c *Controller) withdrawWaiting(b int) bool {
	s := &c.benches[b]
	waiting := s.queue
	s.queue = nil
	for i := range waiting {
		c.withdrawn(b, &waiting[i])
	}
	_, again := c.tapped(b, tapStop)
	return again
}

func (c *Controller) withdrawn(b int, j *job) {
	if j.flood.HasSlot {
		c.benches[b].rememberLeftOut(j.flood.Slot)
	}
	c.closeEarly(j, Skipped, stoppedBefore)
	c.tap(b, tapStop, &schedule.Planned{Slot: schedule.Slot{Local: j.flood.Slot}, Due: j.flood.Due})
	c.wakeSoon()
}

// Shutdown ends what is under way because the program stops: the pump goes off
// with the guard's Stop, and the ledger learns why.
func (c *Controller) Shutdown(now safety.Now) {
	c.now = now
	for b := range c.benches {
		s := &c.benches[b]
		if s.phase == Rest {
			continue
		}
		s.run.person = programStopped
		if s.phase == Holding { // before that nothing counts yet
			if v := &c.view.Benches[b]; v.Flood == s.run.flood.ID && v.Attempt == s.run.flood.Attempt {
				c.count(b, v, now.Mono)
			}
		}
		s.phase = Rest
		c.closeEarly(&s.run.job, Missed, programStopped)
	}
}

const programStopped = "the program was stopped"

var errNoBench = errors.New("no such bench")

func (c *Controller) checkBench(b int) error {
	if b < 0 || b >= len(c.benches) {
		return errNoBench
	}
	return nil
}
