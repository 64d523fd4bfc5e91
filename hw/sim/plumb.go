package sim

import (
	"fmt"
	"math"
	"time"

	"benchtide/hw/hydraulics"
	"benchtide/schedule/demand"
)

// build makes the parts that never change.
func (w *World) build() error {
	draws := w.cfg.Nature.Draw(w.cfg.Seed)
	w.air = draws.Of("air.use", 0)
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
			Reservoir: r, intake: intake, lag: hours(draws.Of("room.lag", i)),
			low: sensor{contact: r.Low}, level: sensor{contact: r.Level},
			lowBand: band(r.LowBand) * float64(r.Area) * 1000, levelBand: band(r.LevelBand) * float64(r.Area) * 1000,
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

// band is how far below where it is made a float turns back, in metres.
func band(b hydraulics.Metres) float64 {
	if b > 0 {
		return float64(b)
	}
	return hysteresis
}

func (w *World) buildBench(i int) error {
	b := &w.benches[i]
	b.Bench = &w.cfg.Benches[i]
	b.basin.table = float64(b.Length * b.Width)
	b.switches = [switches]sensor{
		full: floating(b.Full), high: floating(b.High), empty: floating(b.Empty), leakPad: {contact: b.Leak},
	}
	for n := range b.Batches {
		if err := w.buildPots(i, &b.Batches[n]); err != nil {
			return err
		}
	}
	var err error
	b.plumbing, err = w.cfg.Pipes.of(b.Bench)
	b.own = w.ownOf(i)
	b.plumbing = b.own.of(b.plumbing)
	return err
}

func floating(f Float) sensor {
	return sensor{contact: f.Contact, at: float64(f.At), band: band(f.Band)}
}

func (w *World) buildPots(bench int, p *Pots) error {
	draws, n := w.cfg.Nature.Draw(w.cfg.Seed), len(w.pots)
	p.Substrate.Capacity = min(1, p.Substrate.Capacity*draws.Of("pots.holds", n))
	p.Substrate.Uptake = time.Duration(float64(p.Substrate.Uptake) * draws.Of("pots.drinks", n))
	holds, err := demand.NewPot(demand.Litres(p.Volume), p.Substrate.Capacity)
	if err != nil {
		return fmt.Errorf("batch %q: %w", p.Name, err)
	}
	holds.Volume *= demand.Litres(p.Count)
	w.benches[bench].pots = append(w.benches[bench].pots, len(w.pots))
	w.pots = append(w.pots, pots{
		Pots: p, bench: bench, canopy: float64(p.Canopy) * float64(p.Count),
		thirst: (1 - scatter + 2*scatter*unit(w.cfg.Seed+4, uint64(n))) * draws.Of("plants.use", n),
		growth: growthOf(draws, n), start: draws.Of("pots.start", n),
		holds: holds, capacity: float64(holds.Holds()), fresh: true,
		bears: [Causes]float64{draws.Of("crop.dry", n), draws.Of("crop.wet", n), draws.Of("crop.salt", n), draws.Of("crop.cold", n), draws.Of("crop.dark", n)},
	})
	return nil
}

// plumbing is how water moves through the parts of a bench.
type plumbing struct {
	supply, back            curve   // L/s by head; back is the way home below the crest
	mouth, weir, drowned    float64 // L/s at 1 m of head: drain mouth, crest as weir and as orifice
	rim, hole, hoseW, hoseO float64 // L/s at 1 m of head: edge, leak, open hose end as weir and as orifice
	backDrop                float64 // m between table floor and the end of the way home, reservoir at Usable
}

// Pipes remembers the plumbing of benches, so that one world of a site after
// the other need not solve the same pipes again. Make one for each goroutine.
type Pipes map[parts]plumbing

// parts are what a plumbing follows from.
type parts struct {
	supply              Supply
	drain               Drain
	length, width, bore hydraulics.Metres
}

func (p Pipes) of(b *Bench) (plumbing, error) {
	key := parts{b.Supply, b.Drain, b.Length, b.Width, b.Bore}
	if known, ok := p[key]; ok {
		return known, nil
	}
	solved, err := plumb(b)
	if p != nil && err == nil {
		p[key] = solved
	}
	return solved, err
}

// pump is the one of a data sheet, or else of a label.
func (s *Supply) pump() (hydraulics.Pump, error) {
	if s.Curve.N > 0 {
		return hydraulics.Curve(s.Curve.Points[:s.Curve.N]...)
	}
	return hydraulics.Between(s.MaxHead, s.MaxFlow, s.Straight)
}

// plumb tables the flows of a bench from the hydraulics of its parts.
func plumb(b *Bench) (p plumbing, err error) {
	pump, err := b.Supply.pump()
	if err != nil {
		return p, err
	}
	hose := hydraulics.Pipe{Bore: b.Supply.Bore, Length: b.Supply.Length, Roughness: hydraulics.SmoothWall, Minor: b.Supply.Minor}
	supply := func(lift hydraulics.Metres) hydraulics.Supply {
		return hydraulics.Supply{Pump: pump, Hose: hose, Lift: lift, Viscosity: hydraulics.ViscosityAt20}
	}
	p.supply, err = newCurve(0, float64(b.Supply.MaxHead), func(h hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error) {
		return supply(h).Flow(0)
	})
	if err != nil {
		return p, err
	}
	if err := p.drain(b, supply); err != nil {
		return p, err
	}
	return p, p.edges(b)
}

func (p *plumbing) drain(b *Bench, supply func(hydraulics.Metres) hydraulics.Supply) error {
	bore, drop := b.Drain.Bore, min(b.Drain.Length, b.Supply.Lift)
	full := func(h hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error) {
		minor, err := hydraulics.MinorLoss(hydraulics.EntranceSharp, hydraulics.Exit)
		if err != nil {
			return 0, err
		}
		pipe := hydraulics.Pipe{Bore: bore, Length: b.Drain.Length, Roughness: hydraulics.SmoothWall, Minor: minor}
		return hydraulics.DropPipe{Pipe: pipe, Drop: h, Viscosity: hydraulics.ViscosityAt20}.Full(0)
	}
	if b.Drain.ThroughPump {
		bore, drop = b.Supply.Bore, b.Supply.Lift
		full = func(h hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error) {
			return hydraulics.BackThroughPump{Supply: supply(h), Idle: b.Supply.Idle}.Full(0)
		}
	}
	p.backDrop = float64(drop)
	mouth, err := hydraulics.Weir(math.Pi*bore, 1)
	if err != nil {
		return err
	}
	p.mouth = float64(mouth) * 1000
	p.back, err = newCurve(0.005, float64(drop)+2, full)
	return err
}

// leakHole is a table leak at full size: a cracked fitting's 10 mm.
const leakHole hydraulics.Metres = 0.010

func (p *plumbing) edges(b *Bench) error {
	var failed error
	litres := func(q hydraulics.CubicMetresPerSecond, err error) float64 {
		if err != nil {
			failed = err
		}
		return float64(q) * 1000
	}
	p.weir = litres(hydraulics.Weir(math.Pi*b.Bore, 1))
	p.drowned = litres(hydraulics.Standpipe{Bore: b.Bore}.Flow(1))
	p.rim = litres(hydraulics.Weir(2*(b.Length+b.Width), 1))
	p.hole = litres(hydraulics.Orifice{Area: leakHole.Bore(), Discharge: hydraulics.SharpEdge}.Flow(1))
	p.hoseW = litres(hydraulics.Weir(math.Pi*b.Supply.Bore, 1))
	p.hoseO = litres(hydraulics.Standpipe{Bore: b.Supply.Bore}.Flow(1))
	return failed
}
