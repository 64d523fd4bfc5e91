package controller

import (
	"fmt"
	"slices"
	"time"
)

// outage is the time before this program in which no other one ran.
type outage struct {
	from    time.Time     // the wall clock at the last checkpoint
	to      time.Time     // and at the start of this program; the true one once trust has come
	trusted bool          // from can be believed
	anchor  time.Time     // the wall clock when it was last trusted before outages whose length is not known yet
	known   bool          // how long it was is known
	length  time.Duration // when it is known
	resumed time.Duration // the boot-time clock at the start of this program
	was     bool          // this program resumed from another one's state
	told    bool
}

// shortOutage is an outage that nobody needs to hear of.
const shortOutage = 2 * time.Minute

// measureOutage replaces what outages of unknown length counted as by their true
// length, once the clock is trusted.
func (c *Controller) measureOutage() {
	o := &c.outage
	anchor := o.anchor
	o.anchor = time.Time{}
	i := slices.IndexFunc(c.benches, func(s bench) bool { return s.gap.open })
	if anchor.IsZero() || i < 0 {
		return
	}
	at, g := c.monoOf(anchor), c.benches[i].gap
	length := g.assumed - (at - g.anchor)
	if length < 0 { // the clock had been ahead, and tells nothing
		for b := range c.benches {
			g := c.benches[b].gap
			c.benches[b].gap = gap{}
			c.benches[b].forgetStandsBefore(g.edge)
			c.forgetWords(b, &g)
		}
		return
	}
	for b := range c.benches {
		c.settleGap(b, at)
		c.lapse(b)
	}
	o.known, o.length, o.to = true, length, c.wallOf(o.resumed)
	c.clock.away = poweredOff
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
	case o.known && !o.trusted:
		text = fmt.Sprintf("The controller is back. It was off for %s.", Lasting(o.length))
	case o.known && drift.Abs() > stepLimit:
		text = fmt.Sprintf("The controller is back. It was off for %s, and the clock was set meanwhile.", Lasting(o.length))
	case o.known:
		text = fmt.Sprintf("The controller is back. It was off from %s to %s.", c.local(o.from), c.local(o.to))
	}
	c.tell(Today, -1, "outage", Parts{
		Happened: text,
		Done:     "Slots that were due meanwhile are listed in the ledger; a crop that could not wait gets one catch-up flood.",
	})
}
