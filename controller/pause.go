package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// pause keeps automatic floods of a bench from starting until it ends.
type pause struct {
	on        bool
	until     time.Duration
	untilWall time.Time
	made      time.Duration // boot-time clock
	by        string
}

func (p *pause) text(c *Controller) string {
	return personally("until "+c.local(p.untilWall), p.by)
}

// maxPause bounds a pause: every hold has an end.
const maxPause = 14 * 24 * time.Hour

// Pause keeps automatic floods of bench b from starting until the wall clock
// reads until. Floods under way go on, floods by hand may start, the crop
// clock counts on. It ends by itself.
func (c *Controller) Pause(now safety.Now, b int, until time.Time, by string) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	d := until.Sub(now.Wall)
	if d <= 0 {
		return fmt.Errorf("pause %s: %s has passed; give a later time", c.called(b), c.local(until))
	}
	if d > maxPause {
		return fmt.Errorf("pause %s: until %s is longer than %.0f days; give an earlier end, or close the batch", c.called(b), c.local(until), maxPause.Hours()/24)
	}
	c.benches[b].pause = pause{on: true, until: now.Mono + d, untilWall: until, made: now.Mono, by: by}
	c.emit(Event{Kind: PauseBegan, Bench: b, Output: -1, Text: c.benches[b].pause.text(c)})
	c.dirty = true
	return nil
}

// Resume ends the pause of bench b.
func (c *Controller) Resume(now safety.Now, b int) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	if !c.benches[b].pause.on {
		return fmt.Errorf("resume %s: it is not paused", c.called(b))
	}
	c.liftPause(b, "resumed by hand")
	return nil
}

func (c *Controller) endPause(b int) {
	p := &c.benches[b].pause
	if !p.on {
		return
	}
	if c.now.Mono < p.until {
		c.wakeAt(p.until)
		return
	}
	c.liftPause(b, "its time was up")
	c.tell(Today, b, "pause", Parts{Happened: c.called(b) + ": the pause has ended.", Done: "Floods start again by themselves."})
}

func (c *Controller) liftPause(b int, why string) {
	c.benches[b].pause = pause{}
	c.emit(Event{Kind: PauseEnded, Bench: b, Output: -1, Text: why})
	c.dirty = true
	c.reconsiderBench(b)
}
