package controller

import (
	"fmt"
	"time"
)

// LastFlood is a flood that counted, as pots remember it.
type LastFlood struct {
	Ended time.Time     // when it counted
	Dated bool          // the clock that says so is believed
	Hold  time.Duration // how long the water stood, by the plan
	Use   float64       // how many times as much as is worked out its drier pots use; see drier and Learnt
}

// Learnt tells how many times as much as is worked out batch i really uses. One that
// uses less is reckoned as the file has it.
func (c *Controller) Learnt(i int, times float64) {
	if times = max(1, times); i >= 0 && i < len(c.pots) && c.pots[i].use != times {
		c.pots[i].use = times
		c.dirty = true
	}
}

// limit is how long a crop can wait from the last flood that counted.
type limit struct {
	wait time.Duration
	pots bool // its pots run dry before what its stage allows is over
}

// pots is how long those of one batch last after a flood, as it was worked out.
type pots struct {
	of    LastFlood
	most  time.Duration
	lasts time.Duration
	known bool
	use   float64 // see Learnt; 0 while nothing is
}

// limit is the one that the crop clock of batch i runs against: what its stage
// allows, and once a planned flood did not count, was left out or cannot start, the
// hour at which its pots reach theirs on hot days, where that comes first. It is
// false for a batch without a stage today.
func (c *Controller) limit(i int) (limit, bool) {
	wait, ok := c.canWait(i)
	k := &c.crops[i]
	if !ok || c.setup.PotsLast == nil || !k.trouble && !k.dry && !c.heldUp(c.setup.Batches[i].Bench) {
		return limit{wait: wait}, ok
	}
	if lasts := c.potsLast(i, wait); lasts < wait {
		return limit{lasts, true}, true
	}
	return limit{wait: wait}, true
}

// drier is how many times as much as the mean pot of a batch one in ten uses at least:
// pots on edges and large plants make a spread of about 15 % (common practice, no
// source), of which a tenth lies 1.28 times above the mean.
const drier = 1 + 1.28*0.15

// potsLast asks for it once for each flood.
func (c *Controller) potsLast(i int, most time.Duration) time.Duration {
	b := c.setup.Batches[i].Bench
	flood := LastFlood{Ended: c.wallOf(c.crops[i].since).Round(time.Minute), Dated: c.clock.calendar(), Use: drier * max(1, c.pots[i].use)}
	if p, ok := c.governing(b); ok {
		flood.Hold = p.Hold
	}
	if !flood.Dated {
		flood.Ended = c.today().At(0).In(c.setup.Calendar.Zone())
	}
	if k := &c.pots[i]; !k.known || k.of != flood || k.most != most {
		k.of, k.most, k.lasts, k.known = flood, most, c.setup.PotsLast(i, flood, most), true
	}
	return c.pots[i].lasts
}

// heldUp reports whether bench b could not start its next planned flood: it was
// refused, a trip is latched, or what a person asked for lasts until then.
func (c *Controller) heldUp(b int) bool {
	s := &c.benches[b]
	if len(s.queue) > 0 && s.queue[0].refusal.Refused() || c.view != nil && len(c.view.Benches[b].Latched) > 0 || s.sanitising.on() {
		return true
	}
	if !s.pause.on || !c.clock.calendar() {
		return s.pause.on
	}
	next, ok := c.nextSlot(b)
	return ok && c.monoOf(next.Due) < s.pause.until
}

// String says what the limit is.
func (l limit) String() string {
	if l.pots {
		return fmt.Sprintf("in hot weather its pots last %s", Lasting(l.wait))
	}
	return fmt.Sprintf("it can wait %s", Lasting(l.wait))
}

// passed says that the limit is passed.
func (l limit) passed() string {
	if l.pots {
		return "By now they may be too dry."
	}
	return "It has waited longer than it can."
}

// waited says how long the crop has been without water.
func (k *cropClock) waited(now time.Duration) string {
	if k.noFlood {
		return fmt.Sprintf("no flood on record, counted from %s ago", Lasting(now-k.since))
	}
	return fmt.Sprintf("last watered %s ago", Lasting(now-k.since))
}
