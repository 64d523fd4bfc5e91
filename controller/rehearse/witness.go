package rehearse

import (
	"benchtide/hw/sim"
	"benchtide/safety"
)

// witness is the simulated board, and remembers what passed over it in this
// turn.
type witness struct {
	*sim.World
	readings *safety.Readings // as last read
	applied  safety.Command   // as last applied
	drives   int              // commands that energise something, since the last turn
}

func (w *witness) Read(now safety.Now, r *safety.Readings) {
	w.World.Read(now, r)
	copy(w.readings.Benches, r.Benches)
}

func (w *witness) Apply(c safety.Command) error {
	w.applied = c
	if c.Any() {
		w.drives++
	}
	return w.World.Apply(c)
}
