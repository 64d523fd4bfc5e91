package rehearse

import (
	"time"

	"benchtide/controller/loop"
	"benchtide/hw/sim"
)

// Observation is one turn beside what was true at the time.
type Observation struct {
	At     time.Duration // since the scenario began, which no clock of the program tells
	True   time.Time     // the same as a date
	Turn   *loop.Turn    // only valid during the call
	Totals sim.Totals
	Dry    func(output int) (ran time.Duration, circuit bool) // for how long its pump ran dry since the scenario began, and whether its circuit is closed
	Litres func(reservoir int) float64
	Depth  func(bench int) float64  // m of water on its table
	Wet    func(reservoir int) bool // water stands on one of its tables
}

// observations tells Options.Each of every turn.
type observations struct {
	*rehearsal
	litres func(reservoir int) float64
	depth  func(bench int) float64
	wet    func(reservoir int) bool
	dry    func(output int) (time.Duration, bool)
}

func (m *observations) Turn(t *loop.Turn) {
	at := m.world.Elapsed()
	m.options.Each(Observation{
		At: at, True: m.start.Add(at), Turn: t, Totals: m.world.Totals, Dry: m.dry, Litres: m.litres, Depth: m.depth, Wet: m.wet,
	})
}

// dryOf is for how long the pump of an output ran dry, and whether its circuit is closed.
func (r *rehearsal) dryOf(output int) (ran time.Duration, circuit bool) {
	o := &r.world.Outputs[output]
	return o.Dry, o.Circuit
}
