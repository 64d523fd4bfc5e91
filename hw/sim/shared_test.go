package sim_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/sim"
	"benchtide/safety"
)

// twoBenches share the tank and the enable; the second one has outputs of its own.
func twoBenches() sim.Config {
	c := oneBench()
	c.Outputs = append(c.Outputs, sim.Output{Name: "south_pump", Kind: safety.FloodPump, Enable: enable})
	south := c.Benches[0]
	south.Name, south.Pump = "south", southPump
	south.Batches = []sim.Pots{
		{Name: "plugs", Count: 200, Top: 0.04, Volume: 0.02, Substrate: sim.Coir, Planted: -50 * 24 * time.Hour},
		{Name: "pots", Count: 20, Top: 0.12, Volume: 1, Substrate: sim.Bark, Planted: -50 * 24 * time.Hour},
	}
	c.Benches = append(c.Benches, south)
	return c
}

const southPump = 3

func TestTwoTablesDrawOnOneReservoir(t *testing.T) {
	w := world(t, twoBenches())
	w.Energise(pump, southPump, enable)
	w.Advance(4 * time.Minute)
	both := w.Litres(0)
	assert.Positive(t, w.Depth(0))
	assert.Positive(t, w.Depth(1))
	one := world(t, twoBenches())
	one.Energise(pump, enable)
	one.Advance(4 * time.Minute)
	assert.Zero(t, one.Depth(1))
	assert.Greater(t, one.Litres(0), both+40)
	assert.Greater(t, one.Depth(0), w.Depth(0), "a fuller tank is less lift")

	w.Energise()
	w.Advance(time.Hour)
	assert.Less(t, abs(w.Error()), 1e-9)
	assert.InDelta(t, 200, w.Litres(0), 1e-6, "nobody drinks at night from pots at capacity")
}

func TestEachBatchDrinksItsOwn(t *testing.T) {
	w := world(t, twoBenches())
	w.Advance(20 * time.Hour)
	before := w.Truth().Batches
	w.Energise(southPump, enable)
	w.Advance(w.Elapsed() + 10*time.Minute)
	after := w.Truth().Batches
	assert.Equal(t, before[0].Water, after[0].Water, "the other table stayed bare")
	for _, i := range []int{1, 2} {
		assert.Greater(t, after[i].Water, before[i].Water)
		assert.LessOrEqual(t, after[i].Water, 1.0)
	}
}

func TestOneHighHoldsBothPumps(t *testing.T) {
	w := world(t, twoBenches())
	w.Energise(pump, southPump, enable)
	require.NoError(t, w.Inject(sim.Fault{What: "wire-open", Where: "south.high"}))
	assert.False(t, w.Running(pump) || w.Running(southPump))
}

func TestWiresOfButtonAndLowSwitchBreakToo(t *testing.T) {
	w := world(t, twoBenches())
	require.NoError(t, w.Inject(sim.Fault{What: "wire-short", Where: "hands_in"}))
	require.NoError(t, w.Inject(sim.Fault{What: "wire-open", Where: "tank.low"}))
	r := readings(w)
	assert.Equal(t, safety.Wet, r.HandsIn.Level)
	assert.Equal(t, safety.Dry, r.Reservoirs[0].Low.Level)
	assert.Equal(t, w.Now().Mono, r.HandsIn.At)
	assert.Equal(t, 1, w.Clear("wire-open", "tank.low"))
	assert.Equal(t, safety.Wet, readings(w).Reservoirs[0].Low.Level)
}

func TestSwitchThatIsNotFittedIsAbsent(t *testing.T) {
	c := oneBench()
	c.Benches[0].Empty, c.Benches[0].Leak, c.HandsIn = sim.Float{}, sim.Contact{}, false
	r := readings(world(t, c))
	assert.Equal(t, safety.Reading{}, r.Benches[0].Empty)
	assert.Equal(t, safety.Reading{}, r.Benches[0].Leak)
	assert.Equal(t, safety.Reading{}, r.HandsIn)
	err := world(t, c).Inject(sim.Fault{What: "wire-open", Where: "north.empty"})
	assert.ErrorContains(t, err, "one of north.full, north.high, tank.low")
}

// A real guard's Command drives the simulated relays, and none but a guard's can.
func TestGuardsCommandRunsThePump(t *testing.T) {
	w := world(t, oneBench())
	limits := safety.Limits{
		Outputs: []safety.OutputLimits{
			{Name: "flood_pump", Kind: safety.FloodPump, Enable: enable},
			{Name: "stirrer", Kind: safety.Stirrer, Enable: enable},
			{Name: "enable", Kind: safety.Enable, Enable: -1},
		},
		Reservoirs: []safety.ReservoirLimits{{Name: "tank", Usable: 200, Keep: 20, Low: true, LowAt: 140}},
		Benches: []safety.BenchLimits{{
			Name: "north", Pump: pump, Full: true, High: true, Empty: true, Leak: true,
			Fill: 3 * time.Minute, Fall: 2 * time.Minute, Drain: 10 * time.Minute, Over: 5 * time.Minute,
			MaxHold: 5 * time.Minute, DailyRun: time.Hour, Flow: 0.38, Flood: 100,
		}},
	}
	g := safety.New(limits, safety.State{}, w.Now(), "boot")
	want := safety.NewWant(limits)
	r := safety.NewReadings(limits)
	turn := func() {
		w.Read(w.Now(), r)
		g.Observe(w.Now(), r)
		require.NoError(t, w.Apply(g.Allow(w.Now(), want)))
		require.NoError(t, w.Wait(context.Background(), min(g.Next(), w.NextRead(w.Now().Mono), w.Now().Mono+time.Minute), nil))
	}
	for w.Elapsed() < 15*time.Minute { // the table counts as full after a start
		turn()
	}
	require.False(t, w.Running(pump))
	want.Benches[0] = safety.RunWant{Pump: true, Flood: 1, Hold: time.Minute}
	for w.Depth(0) < 0.02 {
		turn()
		require.Less(t, w.Elapsed(), 20*time.Minute)
	}
	assert.True(t, w.Running(pump))
	want.Benches[0] = safety.RunWant{}
	turn()
	assert.False(t, w.Running(pump))
}
