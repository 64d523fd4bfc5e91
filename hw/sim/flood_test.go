package sim_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/hydraulics"
	"benchtide/hw/sim"
	"benchtide/safety"
	"benchtide/schedule/demand"
)

func fullIs(l safety.Level) func(*safety.Readings) bool {
	return func(r *safety.Readings) bool { return r.Benches[0].Full.Level == l }
}

func emptyIs(l safety.Level) func(*safety.Readings) bool {
	return func(r *safety.Readings) bool { return r.Benches[0].Empty.Level == l }
}

func TestFloodFillsHoldsAndDrains(t *testing.T) {
	w := world(t, oneBench())
	start := w.Now().Mono
	w.Energise(pump, enable)
	made := until(t, w, 10*time.Minute, fullIs(safety.Wet))
	assert.InDelta(t, 183, (made - start).Seconds(), 10, "fill")
	assert.InDelta(t, 0.026, w.Depth(0), 1e-6, "the switch is found where it sits")

	w.Advance(w.Elapsed() + 6*time.Minute)
	supply := oneSupply(t)
	supply.Lift += hydraulics.Metres((200 - w.Litres(0)) / 1000 / 0.6)
	q, err := supply.Flow(hydraulics.Metres(w.Depth(0)))
	require.NoError(t, err)
	head, err := hydraulics.Standpipe{Bore: 0.050}.Head(q)
	require.NoError(t, err)
	assert.InDelta(t, 0.030+float64(head), w.Depth(0), 1e-4, "the standpipe carries the pump's whole flow")

	stop := w.Now().Mono
	w.Energise(enable)
	assert.InDelta(t, 130, (until(t, w, 10*time.Minute, fullIs(safety.Dry)) - stop).Seconds(), 15, "fall")
	assert.InDelta(t, 0.024, w.Depth(0), 1e-6, "2 mm of hysteresis")
	gone := until(t, w, 20*time.Minute, emptyIs(safety.Dry)) - stop
	assert.Less(t, gone, 10*time.Minute)
	w.Advance(w.Elapsed() + 10*time.Minute)
	assert.Zero(t, w.Depth(0))
	assert.InDelta(t, 200, w.Litres(0), 1e-9, "pots were at container capacity at night: all comes home")
}

func oneSupply(t *testing.T) hydraulics.Supply {
	t.Helper()
	p, err := hydraulics.Nameplate(2.2, hydraulics.LitresPerHour(2000))
	require.NoError(t, err)
	hose := hydraulics.Pipe{Bore: 0.019, Length: 3, Roughness: hydraulics.SmoothWall, Minor: 3}
	return hydraulics.Supply{Pump: p, Hose: hose, Lift: 0.8, Viscosity: hydraulics.ViscosityAt20}
}

// Source: the closed form t = (2·A·H₀/Qmax)·(√(1−Hs/H₀) − √(1−(Hs+d)/H₀)), 282.19 s for a table of
// 1.2 × 2.4 m to 40 mm with a pump of 2 m and 2000 L/h lifting 0.9 m, through a hose without loss.
func TestBareTableFillsInTheClosedFormsTime(t *testing.T) {
	c := oneBench()
	b := &c.Benches[0]
	b.Batches = nil
	b.Crest, b.Full.At = 0.050, 0.040
	b.Supply = sim.Supply{Bore: 0.5, Length: 0, Lift: 0.9, MaxHead: 2, MaxFlow: hydraulics.LitresPerHour(2000), Minor: 0.01}
	c.Reservoirs[0].Area = 1e6 // no drawdown
	w := world(t, c)
	start := w.Now().Mono
	w.Energise(pump, enable)
	made := until(t, w, 10*time.Minute, fullIs(safety.Wet))
	assert.InEpsilon(t, 282.19, (made - start).Seconds(), 0.002)
}

// The same bench by the hydraulics' own integral, hose and idle pump and all.
func TestBareTableFillsAndDrainsAsTheHydraulicsSay(t *testing.T) {
	c := oneBench()
	c.Benches[0].Batches = nil
	c.Reservoirs[0].Area = 1e6
	w := world(t, c)
	start := w.Now().Mono
	w.Energise(pump, enable)
	made := until(t, w, 10*time.Minute, fullIs(safety.Wet))
	assert.InEpsilon(t, passes(t, oneSupply(t).Flow, 2.88, 0, 0.026), (made - start).Seconds(), 0.005)

	w.Energise()
	from := w.Depth(0)
	gone := until(t, w, 20*time.Minute, emptyIs(safety.Dry))
	back := hydraulics.BackThroughPump{Supply: oneSupply(t), Sump: 0.005}
	assert.InEpsilon(t, passes(t, back.Flow, 2.88, 0.004, from), (gone - made).Seconds(), 0.005)
}

// passes is how many seconds a flow takes to pass the water of a table of a
// constant area between two depths: A·dy/dt = Q(y), in steps of √y.
func passes(t *testing.T, flow func(hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error), area, low, high float64) (s float64) {
	const steps = 1000
	step := (math.Sqrt(high) - math.Sqrt(low)) / steps
	for i := range steps {
		r := math.Sqrt(low) + (float64(i)+0.5)*step
		q, err := flow(hydraulics.Metres(r * r))
		require.NoError(t, err)
		s += 2 * r * area / float64(q) * step
	}
	return s
}

// Torricelli: a hole lowers water to a quarter of its depth in the time it takes for the rest.
func TestLeakToAQuarterTakesAsLongAsTheRest(t *testing.T) {
	c := oneBench()
	c.Benches[0].Batches = nil
	c.Benches[0].Full.At, c.Benches[0].Empty.At = 0.026, 0.0065+0.002 // clear at 6.5 mm, a quarter of 26 mm
	w := world(t, c)
	w.Energise(pump, enable)
	until(t, w, 10*time.Minute, fullIs(safety.Wet))
	require.NoError(t, w.Inject(sim.Fault{What: "drain-blocked", Where: "north"}))
	require.NoError(t, w.Inject(sim.Fault{What: "table-leak", Where: "north"}))
	w.Energise()
	start := w.Elapsed()
	until(t, w, 2*time.Hour, emptyIs(safety.Dry))
	quarter := w.Elapsed()
	for w.Depth(0) > 0 {
		w.Step(w.Elapsed() + time.Second)
	}
	assert.InEpsilon(t, (quarter - start).Seconds(), (w.Elapsed() - quarter).Seconds(), 0.005)
}

func TestPumpThatCannotLiftSoHighMovesNothing(t *testing.T) {
	c := oneBench()
	c.Benches[0].Supply.Lift = 2.5
	w := world(t, c)
	w.Energise(pump, enable)
	w.Advance(time.Hour)
	assert.Zero(t, w.Depth(0))
	assert.True(t, w.Running(pump))
}

func TestOpenDrainCompetesWithThePump(t *testing.T) {
	c := oneBench()
	c.Benches[0].Drain = sim.Drain{Bore: 0.012, Length: 0.6, Always: true}
	slow, fast := world(t, c), world(t, oneBench())
	for _, w := range []*sim.World{slow, fast} {
		w.Energise(pump, enable)
		w.Advance(2 * time.Minute)
	}
	assert.Less(t, slow.Depth(0), 0.95*fast.Depth(0))
	slow.Energise()
	slow.Advance(slow.Elapsed() + time.Hour)
	assert.Zero(t, slow.Depth(0))
	assert.InDelta(t, 200, slow.Litres(0), 1e-9)
}

func TestDryPotsDrinkTowardsContainerCapacityAndWettestFastest(t *testing.T) {
	c := oneBench()
	c.Benches[0].Batches[0].Planted = -60 * 24 * time.Hour
	w := world(t, c)
	w.Advance(132 * time.Hour) // five days and a half of a full canopy
	dry := w.Truth().Batches[0].Water
	require.Less(t, dry, 0.7)
	before := w.Litres(0)
	flood(w, 15*time.Minute)
	w.Advance(w.Elapsed() + time.Hour)
	wet := w.Truth().Batches[0].Water
	assert.Greater(t, wet, dry+0.15)
	assert.LessOrEqual(t, wet, 1.0)
	assert.Less(t, w.Litres(0), before-1, "what the pots hold did not come home")
	assert.LessOrEqual(t, w.Truth().Batches[0].Lowest, dry)
}

func TestPlantsUseMoreAsTheyGrowAndNothingAtNight(t *testing.T) {
	use := func(age time.Duration, from, to time.Duration) float64 {
		c := oneBench()
		c.Benches[0].Batches[0].Planted = -age
		w := world(t, c)
		w.Advance(from)
		before := w.Truth().Totals.Used
		w.Advance(to)
		return w.Truth().Totals.Used - before
	}
	const day = 24 * time.Hour
	young, grown := use(0, 0, day), use(42*day, 0, day)
	assert.InEpsilon(t, demand.LeafyYoung.Factor(0), young/grown, 1e-9, "water does not run short within a day")
	assert.Zero(t, use(42*day, 21*time.Hour, 29*time.Hour))
}

func TestBatchesComeAndGoWithTheirWaterAndTheirRoom(t *testing.T) {
	c := oneBench()
	p := &c.Benches[0].Batches[0]
	p.Planted, p.Removed = 24*time.Hour, 48*time.Hour
	w := world(t, c)
	assert.False(t, w.Truth().Batches[0].OnTable)
	depth := func() float64 { // after a minute of filling
		w.Energise(pump, enable)
		w.Advance(w.Elapsed() + time.Minute)
		d := w.Depth(0)
		w.Energise()
		w.Advance(w.Elapsed() + time.Hour)
		return d
	}
	without := depth()
	w.Advance(24 * time.Hour)
	assert.True(t, w.Truth().Batches[0].OnTable)
	assert.InEpsilon(t, without/(1-96*0.8*0.25*3.14159*0.0081/2.88), depth(), 0.01, "pots displace water")
	w.Advance(49 * time.Hour)
	assert.False(t, w.Truth().Batches[0].OnTable)
	assert.Positive(t, w.Truth().Totals.Removed)
	assert.Less(t, abs(w.Error()), 1e-9)
}

func TestDepthAboveLowPotsHasTheWholeTable(t *testing.T) {
	c := oneBench()
	b := &c.Benches[0]
	b.Batches[0].Volume = 0.05 // 10 mm high
	b.Batches[0].Top = 0.09
	w := world(t, c)
	w.Energise(pump, enable)
	rise := func(from, to time.Duration) float64 {
		w.Advance(from)
		d := w.Depth(0)
		w.Advance(to)
		return w.Depth(0) - d
	}
	low := rise(20*time.Second, 40*time.Second)
	high := rise(140*time.Second, 160*time.Second)
	assert.InEpsilon(t, 1-96*0.8*0.25*3.14159*0.0081/2.88, high/low, 0.05, "but for the pump's slowing")
}

func TestSaltGoesWithWaterAndStaysWhenItDries(t *testing.T) {
	c := oneBench()
	c.Reservoirs[0].Evaporation = 2
	c.Benches[0].Batches = nil
	w := world(t, c)
	for range 5 {
		flood(w, 5*time.Minute)
		w.Advance(w.Elapsed() + 24*time.Hour)
	}
	r := w.Truth().Reservoirs[0]
	assert.InEpsilon(t, 1.2*200, r.Strength*r.Litres, 1e-9)
	assert.Greater(t, r.Strength, 1.25)

	// E·V = E₁·V₁ + E₂·V₂ (dilution).
	before := r.Litres * r.Strength
	added := float64(w.Refill(0, 0.3))
	r = w.Truth().Reservoirs[0]
	assert.InEpsilon(t, (before+0.3*added)/200, r.Strength, 1e-9)
}

func TestValvedDrainIsShutWhileThePumpRuns(t *testing.T) {
	c := oneBench()
	c.Benches[0].Drain = sim.Drain{Bore: 0.025, Length: 0.6}
	valved, plain := world(t, c), world(t, oneBench())
	for _, w := range []*sim.World{valved, plain} {
		w.Energise(pump, enable)
		w.Advance(2 * time.Minute)
	}
	assert.InDelta(t, float64(plain.Depth(0)), float64(valved.Depth(0)), 1e-6)
	valved.Energise()
	valved.Advance(valved.Elapsed() + time.Hour)
	assert.Zero(t, valved.Depth(0))
}

// A drain pipe ends in the reservoir: what is longer than the way down lies
// level, and only adds friction.
func TestADrainFallsNoFurtherThanToTheReservoir(t *testing.T) {
	drains := func(length hydraulics.Metres) time.Duration {
		c := oneBench()
		c.Benches[0].Supply.Lift = 0.4
		c.Benches[0].Drain = sim.Drain{Bore: 0.016, Length: length}
		w := world(t, c)
		w.Energise(pump, enable)
		full := until(t, w, time.Hour, fullIs(safety.Wet))
		w.Energise()
		return until(t, w, time.Hour, emptyIs(safety.Dry)) - full
	}
	assert.Greater(t, drains(1.2), drains(0.4))
}
