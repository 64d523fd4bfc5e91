package rehearse

import (
	"benchtide/hw/sim"
	"benchtide/safety"
)

// observer is the simulated board, and remembers what passed over it in this
// turn.
type observer struct {
	*sim.World
	readings *safety.Readings // as last read
	applied  safety.Command   // as last applied
	drives   int              // commands that energise something, since the last turn
}

func (w *observer) Read(now safety.Now, r *safety.Readings) {
	w.World.Read(now, r)
	copy(w.readings.Benches, r.Benches)
}

func (w *observer) Apply(c safety.Command) error {
	w.applied = c
	if c.Any() {
		w.drives++
	}
	return w.World.Apply(c)
}
