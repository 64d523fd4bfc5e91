package sim

import (
	"time"

	"benchtide/safety"
)

// Truth is what really happened in the world, for reports and tests alone.
type Truth struct {
	Benches    []BenchTruth
	Reservoirs []ReservoirTruth
	Batches    []BatchTruth
	Outputs    []OutputTruth
	Totals     Totals
	DryRun     time.Duration // of all pumps together
	Error      float64       // litres that the balance is out by
}

// BenchTruth is one table.
type BenchTruth struct {
	Name        string
	Depth, Peak float64 // m, now and deepest
	Litres      float64
	Spilled     float64 // litres to the floor, by leak, rim or hose
}

// ReservoirTruth is one reservoir.
type ReservoirTruth struct {
	Name                           string
	Litres, Min, ToppedUp, Spilled float64
	Strength                       float64
	Temperature                    safety.Celsius
}

// BatchTruth is the water in the pots of one batch.
type BatchTruth struct {
	Name    string
	Bench   int
	OnTable bool
	Water   float64 // share of container capacity now
	Limit   float64 // of it, below which its plants begin to suffer
	Lowest  float64 // the least so far; 0 for a batch that never stood
	Harms   [Causes]Harm
}

// OutputTruth is what really ran on one output, welded contacts included.
type OutputTruth struct {
	Name     string
	On       bool
	Run, Dry time.Duration
	Starts   int
}

// Truth tells all.
func (w *World) Truth() Truth {
	t := Truth{Totals: w.Totals, Error: w.Error()}
	for i := range w.benches {
		b := &w.Benches[i]
		t.Benches = append(t.Benches, BenchTruth{w.benches[i].Name, w.Depth(i), b.Peak, b.Litres, b.Spilled})
	}
	for i := range w.reservoirs {
		r := &w.Reservoirs[i]
		t.Reservoirs = append(t.Reservoirs, ReservoirTruth{
			w.reservoirs[i].Name, r.Litres, r.Min, r.ToppedUp, r.Spilled, w.Strength(i), safety.Celsius(r.Celsius),
		})
	}
	for i := range w.pots {
		p, s := &w.pots[i], &w.Pots[i]
		t.Batches = append(t.Batches, BatchTruth{p.Name, p.bench, s.OnTable, s.Litres / p.capacity, float64(p.holds.Threshold()) / p.capacity, s.Lowest, s.Harms})
	}
	for i := range w.outputs {
		o := &w.Outputs[i]
		t.Outputs = append(t.Outputs, OutputTruth{w.outputs[i].Name, o.Circuit, o.Run, o.Dry, o.Starts})
	}
	t.DryRun = w.DryRun()
	return t
}

// DryRun is how long pumps have run with the intake bare, all together.
func (w *World) DryRun() (sum time.Duration) {
	for i := range w.Outputs {
		sum += w.Outputs[i].Dry
	}
	return sum
}

// Depth of water on a table, m.
func (w *World) Depth(bench int) float64 {
	return w.benches[bench].basin.depth(w.Benches[bench].Litres)
}

// Litres in a reservoir.
func (w *World) Litres(reservoir int) float64 { return w.Reservoirs[reservoir].Litres }

// Strength of what is in a reservoir, in the unit of its first fill.
func (w *World) Strength(reservoir int) float64 {
	return strength(w.Reservoirs[reservoir].Salt, w.Reservoirs[reservoir].Litres)
}

// Running says whether the load of an output really runs.
func (w *World) Running(output int) bool { return w.Outputs[output].Circuit }

// Error is how many litres the books are out by: what is stored and what left,
// less what was there and what came.
func (w *World) Error() float64 {
	t := &w.Totals
	return w.stored() + t.Used + t.Evaporated + t.Spilled + t.Removed - t.Initial - t.ToppedUp - t.Arrived
}
