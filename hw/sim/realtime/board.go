package realtime

import (
	"sync"
	"time"

	"benchtide/hw/sim"
	"benchtide/safety"
)

// Board is a simulated site beside a real clock: the world is brought up
// to the present whenever it is looked at or driven, and polled as wired
// switches are.
type Board struct {
	mu     sync.Mutex // the dead-man applies beside the loop
	world  *sim.World
	clock  interface{ Now() safety.Now }
	begun  time.Duration // boot-time clock when the world began
	pumps  []int         // outputs that make the board polled fast
	active bool
}

// Control periods, as those of a wired board.
const (
	periodActive = 10 * time.Millisecond
	periodIdle   = 250 * time.Millisecond
)

// NewBoard puts a world beside a clock, at whose present time the world begins. The
// limits say which outputs are pumps.
func NewBoard(w *sim.World, clock interface{ Now() safety.Now }, l safety.Limits) *Board {
	b := &Board{world: w, clock: clock, begun: clock.Now().Mono}
	for i, o := range l.Outputs {
		if o.Kind != safety.Other {
			b.pumps = append(b.pumps, i)
		}
	}
	return b
}

func (b *Board) catchUp() { b.world.Advance(b.clock.Now().Mono - b.begun) }

// Read brings the world up to the present and reads its switches.
func (b *Board) Read(now safety.Now, r *safety.Readings) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	b.world.Read(now, r)
}

// Apply brings the world up to the present and drives its outputs. Errors are those
// of the world.
func (b *Board) Apply(c safety.Command) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	b.active = false
	for _, i := range b.pumps {
		b.active = b.active || c.On(i)
	}
	return b.world.Apply(c)
}

// NextRead is as of a wired board: soon while a pump circuit is on.
func (b *Board) NextRead(now time.Duration) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.active {
		return now + periodActive
	}
	return now + periodIdle
}

// Close lets go of the world.
func (b *Board) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world.Close()
}
