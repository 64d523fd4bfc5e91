package sim

import (
	"fmt"
	"math"

	"benchtide/hw/hydraulics"
	"benchtide/schedule/demand"
)

// build makes the parts that never change.
func (w *World) build() error {
	for _, o := range w.cfg.Outputs {
		w.outputs = append(w.outputs, output{Output: o})
	}
	for i := range w.cfg.Reservoirs {
		r := &w.cfg.Reservoirs[i]
		intake := float64(r.Keep) / 2
		if intake == 0 {
			intake = 0.01 * float64(r.Usable)
		}
		w.reservoirs = append(w.reservoirs, reservoir{
			Reservoir: r, intake: intake,
			low: sensor{contact: r.Low}, band: hysteresis * float64(r.Area) * 1000,
		})
	}
	w.benches = make([]bench, len(w.cfg.Benches))
	for i := range w.cfg.Benches {
		if err := w.buildBench(i); err != nil {
			return fmt.Errorf("simulated site: bench %q: %w", w.cfg.Benches[i].Name, err)
		}
	}
	return nil
}

func (w *World) buildBench(i int) error {
	b := &w.benches[i]
	b.Bench = &w.cfg.Benches[i]
	b.basin.table = float64(b.Length * b.Width)
	b.switches = [switches]sensor{
		full: {contact: b.Full.Contact, at: float64(b.Full.At)}, high: {contact: b.High.Contact, at: float64(b.High.At)},
		empty: {contact: b.Empty.Contact, at: float64(b.Empty.At)}, leakPad: {contact: b.Leak},
	}
	for n := range b.Batches {
		if err := w.buildPots(i, &b.Batches[n]); err != nil {
			return err
		}
	}
	return b.plumb()
}

func (w *World) buildPots(bench int, p *Pots) error {
	holds, err := demand.NewPot(demand.Litres(p.Volume), p.Substrate.Capacity)
	if err != nil {
		return fmt.Errorf("batch %q: %w", p.Name, err)
	}
	holds.Volume *= demand.Litres(p.Count)
	w.benches[bench].pots = append(w.benches[bench].pots, len(w.pots))
	w.pots = append(w.pots, pots{
		Pots: p, bench: bench, canopy: float64(p.Canopy) * float64(p.Count),
		thirst: 1 - scatter + 2*scatter*unit(w.cfg.Seed+4, uint64(len(w.pots))),
		holds:  holds, capacity: float64(holds.Holds()), fresh: true,
	})
	return nil
}

// plumb tables the flows of a bench from the hydraulics of its parts.
func (b *bench) plumb() error {
	pump, err := hydraulics.Nameplate(b.Supply.MaxHead, b.Supply.MaxFlow)
	if err != nil {
		return err
	}
	hose := hydraulics.Pipe{Bore: b.Supply.Bore, Length: b.Supply.Length, Roughness: hydraulics.SmoothWall, Minor: b.Supply.Minor}
	supply := func(lift hydraulics.Metres) hydraulics.Supply {
		return hydraulics.Supply{Pump: pump, Hose: hose, Lift: lift, Viscosity: hydraulics.ViscosityAt20}
	}
	b.supply, err = newCurve(0, float64(b.Supply.MaxHead), func(h hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error) {
		return supply(h).Flow(0)
	})
	if err != nil {
		return err
	}
	if err := b.plumbDrain(supply); err != nil {
		return err
	}
	return b.plumbEdges()
}

func (b *bench) plumbDrain(supply func(hydraulics.Metres) hydraulics.Supply) error {
	bore, drop := b.Drain.Bore, b.Drain.Length
	full := func(h hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error) {
		minor, err := hydraulics.MinorLoss(hydraulics.EntranceSharp, hydraulics.Exit)
		if err != nil {
			return 0, err
		}
		pipe := hydraulics.Pipe{Bore: bore, Length: drop, Roughness: hydraulics.SmoothWall, Minor: minor}
		return hydraulics.DropPipe{Pipe: pipe, Drop: h, Viscosity: hydraulics.ViscosityAt20}.Full(0)
	}
	if b.Drain.ThroughPump {
		bore, drop = b.Supply.Bore, b.Supply.Lift
		full = func(h hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error) {
			return hydraulics.BackThroughPump{Supply: supply(h), Idle: b.Supply.Idle}.Full(0)
		}
	}
	b.backDrop = float64(drop)
	mouth, err := hydraulics.Weir(math.Pi*bore, 1)
	if err != nil {
		return err
	}
	b.mouth = float64(mouth) * 1000
	b.back, err = newCurve(0.005, float64(drop)+2, full)
	return err
}

// leakHole is a table leak at full size: a cracked fitting's 10 mm.
const leakHole hydraulics.Metres = 0.010

func (b *bench) plumbEdges() error {
	var failed error
	litres := func(q hydraulics.CubicMetresPerSecond, err error) float64 {
		if err != nil {
			failed = err
		}
		return float64(q) * 1000
	}
	b.weir = litres(hydraulics.Weir(math.Pi*b.Bore, 1))
	b.drowned = litres(hydraulics.Standpipe{Bore: b.Bore}.Flow(1))
	b.rim = litres(hydraulics.Weir(2*(b.Length+b.Width), 1))
	b.hole = litres(hydraulics.Orifice{Area: leakHole.Bore(), Discharge: hydraulics.SharpEdge}.Flow(1))
	b.hoseW = litres(hydraulics.Weir(math.Pi*b.Supply.Bore, 1))
	b.hoseO = litres(hydraulics.Standpipe{Bore: b.Supply.Bore}.Flow(1))
	return failed
}
