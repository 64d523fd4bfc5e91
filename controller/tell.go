package controller

import (
	"fmt"
	"strings"

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
	how := Remedy(r.Interlock, r.Detail)
	if r.Latched {
		how = strings.TrimSpace(how + " Then reset the bench.")
	}
	c.tell(Today, b, "refused-"+string(r.Interlock), Parts{
		Happened: fmt.Sprintf("%s: the flood of %s may not start. %s.", c.called(b), c.local(j.flood.Due), sentence(Phrase(c.setup.Titles, r.Interlock, r.Detail, c.name(b)))),
		Done:     fmt.Sprintf("It is tried until %s, then this flood is cancelled.", c.local(c.now.Wall.Add(j.deadline-c.now.Mono))) + c.madeUpText(j, r),
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
		c.tell(Today, f.Bench, "watched", Parts{Happened: fmt.Sprintf("%s: the first flood after %s is proven. It filled in %s, stood %s and fell in %s.",
			c.called(f.Bench), after, safety.Spell(f.Fill), safety.Spell(f.Stood), safety.Spell(f.Fall))})
	case f.Outcome == Proven, f.Outcome == Unproven && f.Counted:
	case f.Outcome == Skipped:
	default:
		c.tell(Today, f.Bench, "flood", Parts{
			Happened: fmt.Sprintf("%s: the flood of %s %s.", c.called(f.Bench), c.local(f.Due), Ends(c.setup.Titles, f.Outcome, f.Reason, c.name(f.Bench))),
			Done:     c.nextText(f.Bench),
		})
	}
}

// madeUpText says that a flood which may not start now may yet be made up for.
func (c *Controller) madeUpText(j *job, r safety.Refusal) string {
	if j.flood.Cause == ByHand || r.Latched || !c.clock.calendar() {
		return ""
	}
	return " Should the plants not last until the next, one comes as soon as it can start."
}

// tellOfMissed tells once of slots that were missed together.
func (c *Controller) tellOfMissed(b int) {
	m := c.benches[b].missed
	c.benches[b].missed = missed{}
	switch {
	case m.count == 0:
	case m.count == 1:
		c.tell(Today, b, "missed", Parts{Happened: fmt.Sprintf("%s: the flood of %s was missed (%s).", c.called(b), c.local(m.first), m.reason), Done: c.nextText(b)})
	default:
		c.tell(Today, b, "missed", Parts{
			Happened: fmt.Sprintf("%s: %d floods from %s to %s were missed (%s).", c.called(b), m.count, c.local(m.first), c.local(m.last), m.reason),
			Done:     c.nextText(b),
		})
	}
}

// nextText says when bench b floods next.
func (c *Controller) nextText(b int) string {
	if !c.clock.calendar() {
		return ""
	}
	p, ok := c.nextFlood(b)
	if ok && c.view != nil && len(c.view.Benches[b].Latched) > 0 {
		return "Nothing floods until it is reset, and that of " + c.local(p.Due) + " will not run before that."
	}
	if ok {
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

// OutputDeaf tells that an output does not obey; circuit is whether it is a pump
// or an enable relay.
func (c *Controller) OutputDeaf(now safety.Now, detail string, circuit bool) {
	c.now = now
	if circuit {
		c.tell(Urgent, -1, "output", Parts{
			Happened: "An output does not obey (" + Plainly(c.setup.Titles, detail, "") + ").", Done: "The enable relay stays open, and no bench floods until it obeys.",
			Do: "Isolate the pump, then look at its line, its relay, and the plug and supply of its chip.",
		})
		return
	}
	c.tell(Today, -1, "output", Parts{Happened: "An output does not obey (" + Plainly(c.setup.Titles, detail, "") + ").", Done: "The floods go on.", Do: "Look at its line and its relay."})
}

// OutputsObey tells that every output that is no pump obeys again.
func (c *Controller) OutputsObey(now safety.Now) {
	c.now = now
	c.tellGone(Today, -1, "output", Parts{Happened: "Every output obeys again."})
}

func (c *Controller) tellOfGuard(e safety.Event) {
	place, name := "The site", ""
	if e.Bench >= 0 {
		name = c.name(e.Bench)
		place = c.called(e.Bench)
	}
	switch e.Kind {
	case safety.LatchedEvent:
		c.tell(Urgent, e.Bench, string(e.Interlock), Parts{
			Happened: fmt.Sprintf("%s: %s.", place, Phrase(c.setup.Titles, e.Interlock, e.Detail, name)),
			Done:     "Its pump stays off until a person resets it.", Do: Remedy(e.Interlock, e.Detail),
		})
	case safety.WeldProven:
		c.tell(Urgent, e.Bench, "weld", Parts{
			Happened: fmt.Sprintf("%s: %s.", place, Phrase(c.setup.Titles, e.Interlock, e.Detail, name)),
			Done:     "The enable relay stays open and no bench behind it floods.", Do: Remedy(e.Interlock, e.Detail),
		})
	case safety.Tripped:
		if e.Interlock != safety.HandsIn && !e.Latched {
			c.tell(Today, e.Bench, string(e.Interlock), Parts{
				Happened: fmt.Sprintf("%s: %s.", place, Phrase(c.setup.Titles, e.Interlock, e.Detail, name)),
				Done:     "The pump was stopped.", Do: Remedy(e.Interlock, e.Detail),
			})
		}
	}
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
