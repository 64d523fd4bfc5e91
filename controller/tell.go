package controller

import (
	"fmt"

	"benchtide/safety"
)

// quiet lists refusals that pass by themselves within minutes and are nobody's
// business until the deadline.
func quiet(i safety.Interlock) bool {
	return i == safety.MinRest || i == safety.HandsIn || i == Paused || i == Sanitising
}

// Tell has a person told what a sink of the turns found out. It goes with the
// events of the next turn.
func (c *Controller) Tell(m Message) { c.send(m) }

// tellOfRefusal tells once that a flood that is due may not start.
func (c *Controller) tellOfRefusal(b int, j *job, r safety.Refusal) {
	if j.told || quiet(r.Interlock) {
		return
	}
	j.told = true
	how := Remedy(r.Interlock)
	if r.Latched {
		how = "Find and clear the cause, then reset the bench."
	}
	c.tell(Today, b, "refused-"+string(r.Interlock), Parts{
		Happened: fmt.Sprintf("%s: the flood of %s may not start: %s.", c.name(b), c.local(j.flood.Due), saying(refusalText(r))),
		Done:     fmt.Sprintf("It is tried until %s, then the slot is given up.", c.local(c.now.Wall.Add(j.deadline-c.now.Mono))),
		Do:       how,
	})
}

// tellOfEnd tells of a flood that did not do its work, and in detail of the
// first flood after a reset.
func (c *Controller) tellOfEnd(f *Flood) {
	switch {
	case f.Watched && f.Outcome == Proven:
		after := "the reset"
		if c.benches[f.Bench].baseline {
			after, c.benches[f.Bench].baseline = "rinsing", false
		}
		c.tell(Today, f.Bench, "watched", Parts{Happened: fmt.Sprintf("%s: the first flood after %s is proven: filled in %s, stood %s, fell in %s.",
			c.name(f.Bench), after, safety.Spell(f.Fill), safety.Spell(f.Stood), safety.Spell(f.Fall))})
	case f.Outcome == Proven, f.Outcome == Unproven && f.Counted:
	case f.Outcome == Skipped:
	default:
		c.tell(Today, f.Bench, "flood", Parts{
			Happened: fmt.Sprintf("%s: the flood of %s is %s: %s.", c.name(f.Bench), c.local(f.Due), f.Outcome, saying(f.Reason)),
			Done:     c.nextText(f.Bench),
		})
	}
}

// tellOfMissed tells once of slots that were missed together.
func (c *Controller) tellOfMissed(b int) {
	m := c.benches[b].missed
	c.benches[b].missed = missed{}
	switch {
	case m.count == 0:
	case m.count == 1:
		c.tell(Today, b, "missed", Parts{Happened: fmt.Sprintf("%s: the flood of %s is missed: %s.", c.name(b), c.local(m.first), m.reason), Done: c.nextText(b)})
	default:
		c.tell(Today, b, "missed", Parts{
			Happened: fmt.Sprintf("%s: %d floods from %s to %s are missed: %s.", c.name(b), m.count, c.local(m.first), c.local(m.last), m.reason),
			Done:     c.nextText(b),
		})
	}
}

// nextText says when bench b floods next.
func (c *Controller) nextText(b int) string {
	if !c.clock.calendar() {
		return ""
	}
	if p, ok := c.nextFlood(b); ok {
		return "The next is planned for " + c.local(p.Due) + "."
	}
	return "No other flood is planned."
}

// Heard takes the guard's events into the stream and tells of trips.
func (c *Controller) Heard(now safety.Now, events []safety.Event) {
	c.now = now
	for _, e := range events {
		c.emit(Event{Kind: GuardActed, Bench: e.Bench, Output: -1, Guard: e})
		c.tellOfGuard(e)
	}
}

// OutputDeaf tells that an output that is no pump does not obey.
func (c *Controller) OutputDeaf(now safety.Now, detail string) {
	c.now = now
	c.tell(Today, -1, "output", Parts{Happened: "An output does not obey: " + detail + ".", Done: "The floods go on.", Do: "Look at its line and its relay."})
}

func (c *Controller) tellOfGuard(e safety.Event) {
	place := "The site"
	if e.Bench >= 0 {
		place = c.name(e.Bench)
	}
	switch e.Kind {
	case safety.LatchedEvent:
		c.tell(Urgent, e.Bench, string(e.Interlock), Parts{
			Happened: fmt.Sprintf("%s: %s. %s.", place, inSentence(e.Interlock), sentence(e.Detail)),
			Done:     "Its pump stays off until a person resets it.", Do: Remedy(e.Interlock),
		})
	case safety.WeldProven:
		c.tell(Urgent, e.Bench, "weld", Parts{
			Happened: fmt.Sprintf("%s: %s.", place, sentence(e.Detail)),
			Done:     "The enable relay stays open and no bench behind it floods.", Do: "Isolate the pump and have its relay replaced.",
		})
	case safety.Tripped:
		if e.Interlock != safety.HandsIn && !e.Latched {
			c.tell(Today, e.Bench, string(e.Interlock), Parts{
				Happened: fmt.Sprintf("%s: the pump was stopped: %s. %s.", place, inSentence(e.Interlock), sentence(e.Detail)), Do: Remedy(e.Interlock),
			})
		}
	}
}

// Remedy says what a person can do about an interlock, in whole sentences; empty
// when there is nothing but to wait.
func Remedy(i safety.Interlock) string {
	switch i {
	case safety.HighLevel:
		return "Clear the standpipe and the drain, and look at the HIGH switch and its wire."
	case safety.NotEmpty:
		return "See that the table has drained and that the FULL and EMPTY switches hang free."
	case safety.FillWindow:
		return "Look at hose, pump, standpipe and reservoir, and lift the FULL switch by hand."
	case safety.DrainWindow:
		return "If water still runs, unplug the pump. Clear the drain and look at the FULL and EMPTY switches."
	case safety.MaxRun, safety.DailyRun:
		return "Compare the run times with the bench sheet and calibrate again."
	case safety.ReservoirLow:
		return "Top up the reservoir while the table is empty."
	case safety.LeakFound:
		return "Find the water on the floor. Isolate the supply before touching anything wet."
	case safety.LostWater:
		return "Look for water under the table and the reservoir, and at the hose and its clamps. If you took the water out, say so at the reset."
	case safety.Chatter, safety.Implausible:
		return "Look at the switches, their wires and connectors."
	case safety.Stale, safety.Stalled:
		return "Look at the board and at what else runs on it."
	case safety.StateLost:
		return "Look at the bench, its table and its floor before the reset, and at the card or disk of the controller."
	case safety.RestartStorm:
		return "Look at the power supply of the board."
	case safety.Cold:
		return "Warm the solution; it may freeze in pump and pipe."
	case Attended:
		return "Commission the bench, or start the daemon with --attended and stay beside it."
	case safety.Starts:
		return "Look at what starts the pump so often."
	}
	return ""
}

func sentence(s string) string {
	if s == "" {
		return s
	}
	if s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-32) + s[1:]
	}
	return s
}
