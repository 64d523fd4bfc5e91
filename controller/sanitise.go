package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// Sanitising is the reason of a refusal while sanitiser may be in the water.
const Sanitising safety.Interlock = "sanitising"

// sanitising keeps planned floods of a bench off until a person confirms that
// it is rinsed. It has no other end.
type sanitising struct {
	since time.Time // zero while it is off
	by    string
	at    time.Duration // boot-time clock of since; 0 where that is not known
	nudge time.Duration // boot-time clock of the next reminder
}

func (s *sanitising) on() bool { return !s.since.IsZero() }

func (s *sanitising) text(c *Controller) string {
	return personally("since "+c.local(s.since), s.by) + "; it ends when rinsed is confirmed"
}

// personally adds who did it, where that is known.
func personally(text, by string) string {
	if by != "" {
		text += " by " + by
	}
	return text
}

// Sanitise keeps planned floods off bench b, and off every other bench of its
// reservoir: they share the water. Floods by hand may start, to bring sanitiser
// and rinsing water through the pump; they water no crop. It lasts, also across
// restarts, until Rinsed.
func (c *Controller) Sanitise(now safety.Now, b int, by string) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	if c.benches[b].sanitising.on() {
		return fmt.Errorf("sanitise %s: it is being sanitised already", c.called(b))
	}
	if err := c.atRest("sanitise", b); err != nil {
		return err
	}
	for _, o := range c.sharing(b) {
		s := &c.benches[o].sanitising
		*s = sanitising{since: now.Wall, by: by, at: now.Mono, nudge: now.Mono + sanitisingEvery}
		c.emit(Event{Kind: SanitisingBegan, Bench: o, Output: -1, Text: personally("sanitising", by)})
	}
	c.dirty = true
	return nil
}

// Rinsed confirms that bench b and the others of its reservoir are rinsed and
// hold no sanitiser. Floods start again by themselves, and the first that is
// proven is reported in detail: it is a new baseline.
func (c *Controller) Rinsed(now safety.Now, b int, by string) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	if !c.benches[b].sanitising.on() {
		return fmt.Errorf("confirm rinsed on %s: it is not being sanitised", c.called(b))
	}
	if err := c.atRest("confirm rinsed on", b); err != nil {
		return err
	}
	for _, o := range c.sharing(b) {
		c.benches[o].sanitising, c.benches[o].baseline = sanitising{}, true
		c.emit(Event{Kind: SanitisingEnded, Bench: o, Output: -1, Text: personally("rinsed, confirmed", by)})
		c.reconsiderBench(o)
	}
	c.dirty = true
	return nil
}

// sharing lists the benches on the reservoir of bench b, itself included.
func (c *Controller) sharing(b int) []int { return c.drawing[c.limits(b).Reservoir] }

// atRest refuses an act while water is on its way on the reservoir of bench b.
func (c *Controller) atRest(act string, b int) error {
	for _, o := range c.sharing(b) {
		if c.benches[o].phase != Rest {
			return fmt.Errorf("%s %s: a flood is under way on %s; stop it, and wait until the table is bare", act, c.called(b), c.called(o))
		}
	}
	return nil
}

// sanitisingEvery is how often a person is reminded that rinsed has not been
// confirmed.
const sanitisingEvery = 24 * time.Hour

// watchSanitising reminds of sanitising that goes on, once for a reservoir.
func (c *Controller) watchSanitising(b int) {
	s := &c.benches[b].sanitising
	if !s.on() || c.sharing(b)[0] != b {
		return
	}
	if c.now.Mono >= s.nudge {
		s.nudge += sanitisingEvery
		c.tell(Today, b, "sanitising", Parts{
			Happened: c.called(b) + ": nothing floods by itself, as it is being sanitised " + s.text(c) + ".",
			Do:       "Rinse it twice, throw the water away, and confirm.",
		})
	}
	c.wakeAt(s.nudge)
}
