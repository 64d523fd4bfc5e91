package controller

import (
	"errors"
	"time"

	"benchtide/safety"
)

// Asker is who asks for an act, as far as the water in a bench is concerned: who
// is near stands at the benches, or may as well; who is far may not start water
// where somebody works.
type Asker struct {
	Far  bool
	Sure bool // has made sure that nobody works in the bench
}

// nearWins is how long a stop from near keeps away floods that are asked for from
// far.
const nearWins = 30 * time.Minute

// ErrUnsure refuses who is far and has not made sure that nobody works in the
// bench.
var ErrUnsure = errors.New("this comes from another machine: make sure that nobody works in the bench, then ask again and say so")

// ErrStopped refuses who is far where somebody at the bench has just stopped it.
type ErrStopped struct{ Until time.Time }

func (ErrStopped) Error() string {
	return "somebody at the bench has stopped it: ask there, or wait"
}

// ErrGuard refuses what the guard would refuse now.
type ErrGuard struct{ safety.Refusal }

func (e ErrGuard) Error() string { return refusalText(e.Refusal) }

// FloodNow asks for a flood of bench b that may begin now: one that the guard
// would refuse is refused at once, so that a person at the bench is not surprised
// by it two hours later. A hold of 0 means that of the day's stage. Errors are an
// ErrStopped, ErrUnsure, an ErrGuard, or those of Flood.
func (c *Controller) FloodNow(now safety.Now, b int, hold time.Duration, by Asker) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	s := &c.benches[b]
	switch until := s.stoppedNear + nearWins; {
	case by.Far && s.stoppedNear != 0 && now.Mono < until:
		return ErrStopped{c.wallOf(until)}
	case by.Far && !by.Sure && !c.handsInNow(): // under hands-in the guard refuses it, with that reason
		return ErrUnsure
	case c.view != nil && s.phase == Rest && c.view.Benches[b].Start.Refused():
		return ErrGuard{c.view.Benches[b].Start}
	}
	return c.Flood(now, b, hold)
}

func (c *Controller) handsInNow() bool { return c.view != nil && c.view.HandsIn }

// StopNow is StopFlood for whoever asks: it needs nothing from anybody, and from
// near it holds for a while, whether or not there was anything to stop.
func (c *Controller) StopNow(now safety.Now, b int, by Asker) error {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return err
	}
	c.stoppedBy(b, by)
	return c.StopFlood(now, b)
}

// HandsIn takes in that hands-in is to begin or to end, which the guard then does:
// to begin it is everybody's, to end it takes who is near or sure. Errors are
// ErrUnsure.
func (c *Controller) HandsIn(now safety.Now, on bool, by Asker) error {
	c.now = now
	if !on && by.Far && !by.Sure {
		return ErrUnsure
	}
	for b := range c.benches {
		if on {
			c.stoppedBy(b, by)
		}
	}
	return nil
}

func (c *Controller) stoppedBy(b int, by Asker) {
	if !by.Far {
		c.benches[b].stoppedNear, c.dirty = c.now.Mono, true
	}
}
