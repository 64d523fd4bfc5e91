package controller

import (
	"fmt"
	"time"
)

// outage is the time before this program in which no other one ran.
type outage struct {
	from    time.Time     // the wall clock at the last checkpoint
	to      time.Time     // and at the start of this program; the true one once trust has come
	trusted bool          // from can be believed
	known   bool          // how long it was is known
	length  time.Duration // when it is known
	resumed time.Duration // the boot-time clock at the start of this program
	was     bool          // this program resumed from another one's state
	told    bool
}

// shortOutage is an outage that nobody needs to hear of.
const shortOutage = 2 * time.Minute

// measureOutage replaces the interval that an outage of unknown length counted
// as by its true length, once the clock is trusted.
func (c *Controller) measureOutage() {
	o := &c.outage
	if !o.was || o.known || !o.trusted {
		return
	}
	o.to = c.now.Wall.Add(o.resumed - c.now.Mono)
	gap := o.to.Sub(o.from)
	if gap < 0 {
		return
	}
	o.known, o.length = true, gap
	for b := range c.benches {
		s := &c.benches[b]
		by := s.assumed - gap
		if s.elapsedFrom < o.resumed {
			s.elapsedFrom += by
		}
		for i := range c.crops {
			if k := &c.crops[i]; c.setup.Batches[i].Bench == b && k.since < o.resumed {
				k.since += by
			}
		}
	}
	c.clock.away = "the program or its power was off"
	c.tellOfOutage()
	c.dirty = true
}

// open reports whether the length of the outage may still become known soon.
func (o *outage) open() bool { return o.was && !o.known && !o.told }

// tellOfOutage tells once, when its length is known or will not be for a
// while.
func (c *Controller) tellOfOutage() {
	o := &c.outage
	if o.told || !o.was {
		return
	}
	o.told = true
	if o.known && o.length < shortOutage {
		return
	}
	text := "The controller is back after an outage of unknown length."
	switch drift := o.to.Sub(o.from) - o.length; {
	case o.known && drift.Abs() > stepLimit:
		text = fmt.Sprintf("The controller is back. It was off for %s, and the clock was set meanwhile.", hours(o.length))
	case o.known:
		text = fmt.Sprintf("The controller is back. It was off from %s to %s.", c.local(o.from), c.local(o.to))
	}
	c.tell(Today, -1, "outage", Parts{
		Happened: text,
		Done:     "Slots that were due meanwhile are listed in the ledger; a crop that could not wait gets one catch-up flood.",
	})
}
