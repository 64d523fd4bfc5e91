package sheet_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/hw/hydraulics"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// hidden is how a real bench differs from its file.
type hidden struct {
	pump, area float64 // over the file's
	drain      float64 // the flow home while the water falls to FULL over that of the file's figures
	pots       int
	through    bool // it drains through the pump, else through a fitting
}

const fitting = 0.016 // m, bore of the file's drain when it has one

func drawn(r *rand.Rand) hidden {
	scatter := func(by float64) float64 { return 1 + by*(2*r.Float64()-1) }
	return hidden{pump: scatter(0.20), area: scatter(0.05), drain: scatter(0.25), pots: 96 * r.IntN(2), through: r.IntN(2) == 0}
}

func (h hidden) file() sheet.Bench {
	b := greenhouse()
	if !h.through {
		b.Drain = sheet.Drain{Bore: fitting, Length: 0.6}
	}
	return b
}

// real is the simulated site behind the file. The pump through which it drains,
// or the bore of its fitting, is chosen so that it drains as h says.
func (h hidden) real(t *testing.T) sim.Config {
	c := sim.Config{
		Outputs:    []sim.Output{{Name: "pump", Kind: safety.FloodPump, Enable: -1}},
		Reservoirs: []sim.Reservoir{{Name: "tank", Usable: 200, Keep: 20}},
		Benches: []sim.Bench{{
			Name: "north", Length: hydraulics.Metres(2.4 * h.area), Width: 1.2, Rim: 0.075, Crest: 0.030, Bore: 0.050,
			Supply: sim.Supply{Bore: 0.019, Length: 3, Lift: 0.8, MaxHead: 2.2, MaxFlow: hydraulics.LitresPerHour(2000 * h.pump)},
			Full:   sim.Float{Contact: sim.Contact{Fitted: true}, At: 0.026, Band: 0.005},
		}},
		Start: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), Seed: 1,
	}
	b := &c.Benches[0]
	if h.pots > 0 {
		b.Batches = []sim.Pots{{Name: "basil", Count: h.pots, Top: 0.09, Volume: 0.35, Substrate: sim.Peat}}
	}
	want := h.drain * homeFlow(t, hidden{pump: 1, through: h.through}, hydraulics.IdleResistance, fitting)
	b.Supply.Idle, b.Drain = hydraulics.IdleResistance, sim.Drain{ThroughPump: h.through}
	if h.through {
		b.Supply.Idle = solve(0.01, 20, func(idle float64) bool { return homeFlow(t, h, idle, 0) > want })
	} else {
		b.Drain = sim.Drain{Bore: hydraulics.Metres(solve(0.005, 0.05, func(bore float64) bool { return homeFlow(t, h, 0, bore) < want })), Length: 0.6}
	}
	return c
}

func solve(low, high float64, below func(float64) bool) float64 {
	for range 30 {
		if middle := (low + high) / 2; below(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// homeFlow is the mean flow home from a flood's peak to FULL, by the hydraulics.
func homeFlow(t *testing.T, h hidden, idle, bore float64) float64 {
	minor, err := hydraulics.MinorLoss(hydraulics.EntranceSharp, hydraulics.ElbowThreaded, hydraulics.Exit)
	require.NoError(t, err)
	pump, err := hydraulics.Nameplate(2.2, hydraulics.LitresPerHour(2000*h.pump))
	require.NoError(t, err)
	var out hydraulics.Outlet = hydraulics.BackThroughPump{
		Supply: hydraulics.Supply{
			Pump: pump, Lift: 0.8, Viscosity: hydraulics.ViscosityAt20,
			Hose: hydraulics.Pipe{Bore: 0.019, Length: 3, Roughness: hydraulics.SmoothWall, Minor: minor},
		}, Sump: 0.005, Idle: idle,
	}
	if !h.through {
		out = hydraulics.DropPipe{
			Pipe: hydraulics.Pipe{Bore: hydraulics.Metres(bore), Length: 0.6, Roughness: hydraulics.SmoothWall, Minor: 1.5},
			Drop: 0.6, Sump: 0.005, Viscosity: hydraulics.ViscosityAt20,
		}
	}
	var sum float64
	for depth := hydraulics.Metres(0.024); depth < 0.042; depth += 0.003 {
		q, err := out.Flow(depth)
		require.NoError(t, err)
		sum += float64(q)
	}
	return sum
}

// visit is somebody beside the bench, with a stop watch and eyes on the tank.
type visit struct {
	world *sim.World
	guard *safety.Guard
	want  *safety.Want
	r     *safety.Readings
	noise *rand.Rand
	truth struct{ flow, area float64 }
}

func visited(t *testing.T, h hidden, noise *rand.Rand) *visit {
	w, err := sim.New(h.real(t))
	require.NoError(t, err)
	limits := safety.Limits{
		Outputs:    []safety.OutputLimits{{Name: "pump", Kind: safety.FloodPump, Enable: -1}},
		Reservoirs: []safety.ReservoirLimits{{Name: "tank", Usable: 200, Keep: 20}},
		Benches: []safety.BenchLimits{{
			Name: "north", Full: true, Fill: 220 * time.Second, Fall: 4 * time.Minute, Drain: 12 * time.Minute,
			Over: 10 * time.Minute, MaxHold: 10 * time.Minute, DailyRun: 4 * time.Hour, Flow: 0.3, Flood: 90,
		}},
	}
	v := &visit{world: w, want: safety.NewWant(limits), r: safety.NewReadings(limits), noise: noise}
	v.guard = safety.New(limits, safety.State{}, w.Now(), "boot")
	return v
}

// turn takes one turn and waits for the next, or until.
func (v *visit) turn(t *testing.T, until time.Duration) (full safety.Level) {
	now := v.world.Now()
	v.world.Read(now, v.r)
	v.guard.Observe(now, v.r)
	v.guard.TakeEvents()
	require.NoError(t, v.world.Apply(v.guard.Allow(now, v.want)))
	require.NoError(t, v.world.Wait(context.Background(), min(until, max(v.guard.Next(), now.Mono+time.Millisecond)), nil))
	v.world.Read(v.world.Now(), v.r)
	return v.r.Benches[0].Full.Level
}

func (v *visit) until(t *testing.T, limit time.Duration, holds func(safety.Level) bool) time.Duration {
	start := v.world.Now().Mono
	for {
		full := v.turn(t, min(start+limit, v.world.Now().Mono+time.Minute))
		if holds(full) || v.world.Now().Mono >= start+limit {
			return v.world.Now().Mono - start
		}
	}
}

// clocked is a time as a hand stops it: 1 s of noise.
func (v *visit) clocked(d time.Duration) time.Duration {
	return d + time.Duration(v.noise.NormFloat64()*float64(time.Second))
}

// hose is what stands in 3 m of 19 mm: water that the simulated hose does not
// hold and a real one takes, out of the tank and out of the time.
const hose = 0.8506

// tank is the reservoir as an eye reads it: to the litre, and its surface to 5 mm.
func (v *visit) tank() quantity.Litres {
	litres := v.world.Truth().Reservoirs[0].Litres
	if v.world.Running(0) {
		litres -= hose
	}
	return quantity.Litres(math.Round(litres))
}

func (v *visit) flood(t *testing.T, id int64) sheet.Timed {
	v.until(t, time.Hour, func(safety.Level) bool { return false })
	before, moved := v.tank(), v.world.Truth().Totals.Moved
	v.want.Benches[0] = safety.RunWant{Pump: true, Flood: id, Hold: 8 * time.Minute}
	fill := v.until(t, 10*time.Minute, func(l safety.Level) bool { return l == safety.Wet })
	require.Equal(t, safety.Wet, v.r.Benches[0].Full.Level)
	v.truth.flow = (v.world.Truth().Totals.Moved - moved) / fill.Hours()
	fill += time.Duration(hose / v.truth.flow * float64(time.Hour))
	v.truth.area = v.world.Truth().Benches[0].Litres / 26

	v.until(t, 6*time.Minute, func(safety.Level) bool { return false })
	drawn := before - v.tank()
	const area = 0.6 // m² of the simulated reservoir's surface
	down := quantity.Metres(math.Round(float64(drawn)/area/5) * 0.005)
	v.want.Benches[0].Pump = false
	fall := v.until(t, 10*time.Minute, func(l safety.Level) bool { return l == safety.Dry })
	return sheet.Timed{Fill: v.clocked(fill), Fall: v.clocked(fall), Drawn: drawn, Drawdown: down}
}

// Three floods, timed by hand to 1 s and read off the tank to 1 L, on benches
// whose pump, area and drain differ from their file.
func TestThreeFloodsFindTheHiddenBenchWithinThreePercent(t *testing.T) {
	const worlds = 24
	var worst [3]float64
	for n := range uint64(worlds) {
		r := rand.New(rand.NewPCG(n, 1))
		h := drawn(r)
		v := visited(t, h, r)
		var floods []sheet.Timed
		for id := range int64(3) {
			floods = append(floods, v.flood(t, id+1))
		}
		b := h.file()
		if h.pots > 0 {
			b.Tenants = [][]sheet.Pots{basil}
		}
		c, err := sheet.Calibrate(b, floods)
		require.NoError(t, err, "%+v", h)
		for i, off := range []float64{c.Flow.Value / v.truth.flow, c.Free.Value / v.truth.area, c.Home.Value / h.drain} {
			worst[i] = max(worst[i], math.Abs(off-1))
			assert.InDelta(t, 1, off, 0.03, "figure %d of %+v from %v", i, h, floods)
		}
	}
	t.Logf("%d benches: flow within %.1f %%, free area %.1f %%, drain %.1f %%", worlds, 100*worst[0], 100*worst[1], 100*worst[2])
}
