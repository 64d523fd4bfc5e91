package controller

import (
	"slices"

	"benchtide/safety"
)

// grant lets at most one flood begin on each reservoir that is free: the
// first, in the order in which the floods were due and then of the file, that
// the guard would let start. A flood that is refused does not keep others
// waiting.
func (c *Controller) grant() {
	for r := range c.setup.Limits.Reservoirs {
		if c.occupied(r) {
			continue
		}
		if b := c.choose(r); b >= 0 {
			c.begin(b)
		}
	}
}

// occupied reports whether a flood of reservoir r is between its grant and its
// end.
func (c *Controller) occupied(r int) bool {
	return slices.ContainsFunc(c.drawing[r], func(b int) bool { return c.benches[b].phase != Rest })
}

// choose returns the bench whose flood may begin on reservoir r, or -1.
func (c *Controller) choose(r int) int {
	best := -1
	for _, b := range c.drawing[r] {
		s := &c.benches[b]
		if len(s.queue) == 0 || !c.mayStart(b) {
			continue
		}
		if best < 0 || s.queue[0].flood.Due.Before(c.benches[best].queue[0].flood.Due) {
			best = b
		}
	}
	return best
}

// mayStart reports whether the flood at the head of bench b's queue may begin
// now, and notes why not.
func (c *Controller) mayStart(b int) bool {
	j := &c.benches[b].queue[0]
	if j.ready > c.now.Mono {
		c.wakeAt(j.ready)
		return false
	}
	r := c.refusal(b, j)
	if !r.Refused() {
		return true
	}
	c.wakeAt(r.Until)
	c.noteRefusal(b, j, r)
	return false
}

// refusal says why a flood may not start now: a pause, sanitiser in the water, a
// program that may not flood unattended, or the guard.
func (c *Controller) refusal(b int, j *job) safety.Refusal {
	s := &c.benches[b]
	switch {
	case s.pause.on && j.flood.Cause != ByHand:
		return safety.Refusal{Interlock: Paused, Detail: s.pause.text(c), Until: s.pause.until}
	case s.sanitising.on() && j.flood.Cause != ByHand:
		return safety.Refusal{Interlock: Sanitising, Detail: s.sanitising.text(c)}
	case c.setup.Unattended != "" && j.flood.Cause != ByHand:
		return safety.Refusal{Interlock: Attended, Detail: c.setup.Unattended}
	}
	return c.view.Benches[b].Start
}

// Paused is the reason of a refusal while a person holds the bench.
const Paused safety.Interlock = "paused"

// Attended is the reason of a refusal while the bench floods only by hand.
const Attended safety.Interlock = "attended"

// noteRefusal remembers why the flood waits and tells of it once for each
// reason.
func (c *Controller) noteRefusal(b int, j *job, r safety.Refusal) {
	if j.refusal.Interlock == r.Interlock && j.refusal.Latched == r.Latched {
		j.refusal = r
		return
	}
	j.refusal = r
	c.emit(Event{Kind: FloodRefused, Bench: b, Output: -1, Flood: j.flood, Refusal: r})
	c.tellOfRefusal(b, j, r)
}
