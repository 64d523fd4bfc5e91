// Package realtime lets simulated benches keep time with people: Clock holds a
// world to a multiple of real time, Board keeps one beside the machine's own
// clock.
package realtime

import (
	"context"
	"sync/atomic"
	"time"

	"benchtide/hw/sim"
	"benchtide/safety"
)

// Clock is the clock of a simulated world, held to a multiple of real
// time by sleeping. The world goes ahead by at most a slice, then the clock
// sleeps for as long as that took. A late wake-up only slows the world down:
// in the world no turn is ever late.
type Clock struct {
	world *sim.World
	speed float64
	mono  atomic.Int64 // the world's boot-time clock, for other goroutines
	due   time.Time    // when, in real time, the world may go on
}

// slice is how far the world goes ahead at a time, in real time.
const slice = 50 * time.Millisecond

// NewClock holds a world to speed times real time, from now on.
func NewClock(w *sim.World, speed float64) *Clock {
	c := &Clock{world: w, speed: speed, due: time.Now()}
	c.mono.Store(int64(w.Now().Mono))
	return c
}

// Now is for the goroutine that drives the world.
func (c *Clock) Now() safety.Now { return c.world.Now() }

// Mono reads the boot-time clock, for any goroutine.
func (c *Clock) Mono() time.Duration { return time.Duration(c.mono.Load()) }

// Wait advances the world as its own Wait does, no faster than the pace.
func (c *Clock) Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error {
	ahead := time.Duration(float64(slice) * c.speed)
	for {
		from := c.world.Now().Mono
		target := min(until, from+ahead)
		if err := c.world.Wait(ctx, target, wake); err != nil {
			return err
		}
		now := c.world.Now().Mono
		c.mono.Store(int64(now))
		woken, err := c.sleep(ctx, now-from, wake)
		if err != nil || woken || now < target || now >= until {
			return err
		}
	}
}

// sleep lets the real time pass that the world took, unless woken.
func (c *Clock) sleep(ctx context.Context, passed time.Duration, wake <-chan struct{}) (woken bool, err error) {
	now := time.Now()
	if c.due.Before(now) {
		c.due = now
	}
	c.due = c.due.Add(time.Duration(float64(passed) / c.speed))
	timer := time.NewTimer(c.due.Sub(now))
	defer timer.Stop()
	select {
	case <-timer.C:
		return false, nil
	case <-wake:
		return true, nil
	case <-ctx.Done():
		return false, ctx.Err()
	}
}
