package sim_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/sim"
	"benchtide/safety"
)

// seen is what a ten-minute run and half an hour of rest, with a fault from the
// start, look like.
type seen struct {
	full, high, empty bool // ever wet
	endFull           bool // wet in the end
	end, peak         float64
	litres, spilled   float64
	truth             sim.Truth
}

func watch(t *testing.T, f ...sim.Fault) seen {
	t.Helper()
	w := world(t, oneBench())
	for _, f := range f {
		require.NoError(t, w.Inject(f))
	}
	var s seen
	look := func(until time.Duration) {
		for w.Elapsed() < until {
			w.Step(until)
			r := readings(w)
			b := r.Benches[0]
			s.full = s.full || b.Full.Level == safety.Wet
			s.high = s.high || b.High.Level == safety.Wet
			s.empty = s.empty || b.Empty.Level == safety.Wet
			s.endFull = b.Full.Level == safety.Wet
		}
	}
	w.Energise(pump, enable)
	look(10 * time.Minute)
	w.Energise()
	look(40 * time.Minute)
	s.truth = w.Truth()
	s.end, s.peak = w.Depth(0), s.truth.Benches[0].Peak
	s.litres, s.spilled = w.Litres(0), s.truth.Totals.Spilled
	assert.Less(t, abs(w.Error()), 1e-9)
	return s
}

func TestEachFaultDoesWhatThePackageCommentSays(t *testing.T) {
	healthy := watch(t)
	require.True(t, healthy.full && healthy.empty && !healthy.high && !healthy.endFull)
	require.Zero(t, healthy.spilled)
	require.InDelta(t, 200, healthy.litres, 1e-9)

	for _, c := range []struct {
		fault sim.Fault
		holds func(s seen) bool
	}{
		{sim.Fault{What: "pump-dead", Where: "north"}, func(s seen) bool { return s.peak == 0 && s.truth.Outputs[pump].Run == 10*time.Minute }},
		{sim.Fault{What: "pump-weak", Where: "north", Size: 0.3}, func(s seen) bool { return s.full && s.peak < healthy.peak-0.001 }},
		{sim.Fault{What: "pump-weak", Where: "north", Size: 0.8}, func(s seen) bool { return !s.full && s.peak > 0.01 }},
		{sim.Fault{What: "air-lock", Where: "north", For: time.Hour}, func(s seen) bool { return s.peak == 0 }},
		{sim.Fault{What: "relay-welded", Where: "flood_pump"}, func(s seen) bool { return s.full && s.end == 0 }}, // the enable still opens
		{sim.Fault{What: "relay-open", Where: "flood_pump"}, func(s seen) bool { return s.peak == 0 && s.truth.Outputs[pump].Starts == 0 }},
		{sim.Fault{What: "relay-open", Where: "enable"}, func(s seen) bool { return s.peak == 0 }},
		{sim.Fault{What: "full-stuck-low", Where: "north"}, func(s seen) bool { return !s.full && s.peak == healthy.peak }},
		{sim.Fault{What: "full-stuck-high", Where: "north"}, func(s seen) bool { return s.endFull && s.end == 0 }},
		{sim.Fault{What: "high-dead", Where: "north"}, func(s seen) bool { return !s.high }},
		{sim.Fault{What: "wire-open", Where: "north.full"}, func(s seen) bool { return !s.full && s.peak == healthy.peak }},
		{sim.Fault{What: "wire-open", Where: "north.high"}, func(s seen) bool { return s.high && s.peak == 0 }},
		{sim.Fault{What: "wire-short", Where: "north.full"}, func(s seen) bool { return s.endFull && s.end == 0 }},
		{sim.Fault{What: "wire-short", Where: "north.high"}, func(s seen) bool { return !s.high && s.peak == healthy.peak }},
		{sim.Fault{What: "drain-blocked", Where: "north"}, func(s seen) bool { return s.high && s.endFull && s.peak < 0.053 && s.spilled == 0 }},
		{sim.Fault{What: "drain-blocked", Where: "north", Size: 0.5}, func(s seen) bool { return s.peak > healthy.peak+0.004 && s.end == 0 }},
		{sim.Fault{What: "standpipe-missing", Where: "north"}, func(s seen) bool { return !s.full && s.peak > 0.008 && s.litres > 199.9 }},
		{sim.Fault{What: "table-leak", Where: "north"}, func(s seen) bool { return s.full && s.spilled > 10 && s.truth.Totals.TableToFloor == s.spilled }},
		{sim.Fault{What: "hose-off", Where: "north"}, func(s seen) bool { return s.peak == 0 && s.spilled > 150 && s.truth.Totals.HoseToFloor == s.spilled }},
		{sim.Fault{What: "hose-off", Where: "north", Size: 0.3}, func(s seen) bool { return s.peak > 0.005 && s.spilled > 40 }},
		{sim.Fault{What: "breaker-tripped", Where: "north"}, func(s seen) bool { return s.peak == 0 }},
		{sim.Fault{What: "breaker-tripped"}, func(s seen) bool { return s.peak == 0 }},
		{sim.Fault{What: "breaker-tripped", Where: "stirrer"}, func(s seen) bool { return s.full }},
		{sim.Fault{What: "reservoir-leak", Where: "tank"}, func(s seen) bool { return abs(s.spilled-20*40./60) < 1e-9 }},
		{sim.Fault{What: "top-up-while-flooded", Where: "tank"}, func(s seen) bool {
			return s.truth.Totals.ToppedUp > 30 && abs(s.truth.Totals.ToppedUp-40-s.spilled) < 1e-9
		}},
		{sim.Fault{What: "power-cut", At: 2 * time.Minute, For: time.Minute}, func(s seen) bool { return !s.full && s.peak > 0.01 && s.end == 0 }},
		{sim.Fault{What: "process-crash", At: 2 * time.Minute}, func(s seen) bool { return !s.full && s.end == 0 }},
		{sim.Fault{What: "brownout-loop"}, func(s seen) bool { return s.truth.Outputs[pump].Run == 2*time.Second }},
	} {
		t.Run(c.fault.What+" "+c.fault.Where, func(t *testing.T) {
			s := watch(t, c.fault)
			assert.True(t, c.holds(s), "%+v", s)
		})
	}
}

func TestBlockedTableWithoutHighSpillsOverItsEdgeUntilTheIntakeIsBare(t *testing.T) {
	c := oneBench()
	c.Benches[0].High = sim.Float{}
	c.Reservoirs[0].Usable, c.Reservoirs[0].Capacity = 400, 0
	w := world(t, c)
	require.NoError(t, w.Inject(sim.Fault{What: "drain-blocked", Where: "north"}))
	w.Energise(pump, enable)
	until(t, w, time.Hour, func(r *safety.Readings) bool { return r.Benches[0].Leak.Level == safety.Wet })
	assert.InDelta(t, 0.1, w.Truth().Benches[0].Spilled, 1e-3, "the pad is wet from the first tenth of a litre")
	assert.Greater(t, w.Depth(0), 0.075)
	w.Advance(w.Elapsed() + 2*time.Hour)
	assert.InDelta(t, 10, w.Litres(0), 2, "down to the intake")
	assert.Greater(t, w.Truth().DryRun, time.Hour)
	w.Energise()
	w.Mop(0)
	assert.Equal(t, safety.Dry, readings(w).Benches[0].Leak.Level)
}

// With the hose off the table stays bare, so that nothing on it tells a long
// step from a short one; the pump still runs dry in time and no water is made.
func TestPumpWithoutItsHoseEmptiesTheReservoirToItsIntake(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "hose-off", Where: "north"}))
	w.Energise(pump, enable)
	w.Advance(time.Hour)
	w.Energise()
	w.Advance(25 * time.Hour)

	truth := w.Truth()
	assert.InDelta(t, 9, truth.Reservoirs[0].Litres, 1, "half of keep, less what the intake still draws")
	assert.InDelta(t, 0, truth.Error, 1e-6)
	assert.Greater(t, truth.DryRun, 45*time.Minute, "190 L last less than 12 min")
}

func TestWeldedPumpRunsUntilTheEnableOpens(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "relay-welded", Where: "flood_pump"}))
	assert.False(t, w.Running(pump), "it sticks at its next closing, not before")
	w.Energise(pump, enable)
	w.Advance(5 * time.Minute)
	w.Energise(enable)
	assert.True(t, w.Running(pump))
	w.Energise()
	assert.False(t, w.Running(pump))
	w.Energise(enable)
	assert.True(t, w.Running(pump), "still welded")
	assert.Equal(t, 1, w.Clear("relay-welded", "flood_pump"))
	assert.False(t, w.Running(pump))
}

func TestHighHoldsItsEnableOpenForEveryPumpBehindIt(t *testing.T) {
	w := world(t, oneBench())
	w.Energise(pump, stirrer, enable)
	require.NoError(t, w.Lift("north.high", true))
	assert.False(t, w.Running(pump) || w.Running(stirrer))
	require.NoError(t, w.Lift("north.high", false))
	assert.True(t, w.Running(pump) && w.Running(stirrer), "the coil is still driven")

	require.NoError(t, w.Inject(sim.Fault{What: "high-dead", Where: "north"}))
	require.NoError(t, w.Lift("north.high", true))
	assert.True(t, w.Running(pump), "a dead float is found by lifting it")
}

func TestAirEscapesFromAPumpThatRests(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "air-lock", Where: "north"}))
	flood(w, 2*time.Minute)
	assert.Zero(t, w.Depth(0))
	w.Advance(w.Elapsed() + 4*time.Minute)
	flood(w, 2*time.Minute)
	assert.Zero(t, w.Depth(0), "too short a rest")
	w.Advance(w.Elapsed() + 6*time.Minute)
	flood(w, 2*time.Minute)
	assert.Positive(t, w.Depth(0))
}

// Air that a leak lets in at each start is gone with the leak, though no pump ran since.
func TestAirThatComesBackGoesWithItsFault(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "air-lock", Where: "north", For: time.Hour}))
	w.Advance(w.Elapsed() + 2*time.Hour)
	flood(w, 2*time.Minute)
	assert.Positive(t, w.Depth(0))
}

func TestPumpThatRanDryIsAirBound(t *testing.T) {
	c := oneBench()
	c.Reservoirs[0].Usable, c.Reservoirs[0].LowAt = 40, 30
	w := world(t, c)
	w.Energise(pump, enable)
	w.Advance(20 * time.Minute)
	dry := w.Truth().Outputs[pump].Dry
	assert.Greater(t, dry, 10*time.Minute)
	w.Refill(0, 1)
	before := w.Litres(0)
	w.Advance(w.Elapsed() + time.Minute)
	assert.GreaterOrEqual(t, w.Litres(0), before, "covered again, but still bound")
	w.Energise()
	w.Advance(w.Elapsed() + 30*time.Minute)
	before = w.Litres(0)
	flood(w, time.Minute)
	assert.Less(t, w.Litres(0), before-10)
}

func TestStirrerRunsDryToo(t *testing.T) {
	c := oneBench()
	c.Reservoirs[0].Evaporation = 190
	w := world(t, c)
	w.Advance(24 * time.Hour)
	require.Less(t, w.Litres(0), 10.1)
	w.Energise(stirrer, enable)
	w.Advance(w.Elapsed() + 2*time.Hour)
	assert.Greater(t, w.Truth().Outputs[stirrer].Dry, time.Hour)
	assert.Zero(t, w.Truth().Outputs[pump].Dry)
}

func TestLowSwitchFollowsTheReservoirUnlessItSticks(t *testing.T) {
	w := world(t, oneBench())
	w.Energise(pump, enable)
	low := func(r *safety.Readings) bool { return r.Reservoirs[0].Low.Level == safety.Dry }
	until(t, w, 10*time.Minute, low)
	assert.InDelta(t, 140-0.002*600, w.Litres(0), 0.01, "2 mm of float over 0.6 m²")
	require.NoError(t, w.Inject(sim.Fault{What: "low-stuck", Where: "tank"}))
	assert.Equal(t, safety.Wet, readings(w).Reservoirs[0].Low.Level)
	w.Clear("low-stuck", "")
	require.True(t, low(readings(w)))

	w.Energise()
	until(t, w, time.Hour, func(r *safety.Readings) bool { return !low(r) })
	require.NoError(t, w.Lift("tank.low", true))
	assert.True(t, low(readings(w)), "a proof test pulls it down")
}

func TestRefillWhileFloodedOverflowsOnlyWhereThereIsNoRoom(t *testing.T) {
	c := oneBench()
	c.Reservoirs[0].Capacity = 205
	w := world(t, c)
	require.NoError(t, w.Inject(sim.Fault{What: "top-up-while-flooded", Where: "tank"}))
	flood(w, 5*time.Minute)
	assert.True(t, w.Flooded(0))
	w.Advance(w.Elapsed() + time.Hour)
	assert.False(t, w.Flooded(0))
	spilled := w.Truth().Totals.TankToFloor
	assert.InDelta(t, w.Truth().Totals.ToppedUp-5, spilled, 0.1)
	assert.Equal(t, safety.Wet, readings(w).Benches[0].Leak.Level, "it runs under the bench")
	w.Advance(w.Elapsed() + time.Hour)
	flood(w, 5*time.Minute)
	w.Advance(w.Elapsed() + time.Hour)
	assert.InDelta(t, spilled, w.Truth().Totals.TankToFloor, 1e-9, "once only")
}

func TestChatterTurnsFasterThanWater(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "chatter", Where: "north", At: time.Minute, For: time.Minute}))
	changes, last := 0, readings(w).Benches[0].Full.Level
	for w.Elapsed() < 3*time.Minute {
		w.Step(3 * time.Minute)
		if l := readings(w).Benches[0].Full.Level; l != last {
			last = l
			changes++
		}
	}
	assert.InDelta(t, 20, changes, 10)
	assert.Equal(t, safety.Dry, last)
}

func TestHeatAndColdMoveTheSolution(t *testing.T) {
	for what, want := range map[string]float64{"heat": 35, "cold": 0.5} {
		w := world(t, oneBench())
		require.NoError(t, w.Inject(sim.Fault{What: what, Where: "tank"}))
		w.Advance(48 * time.Hour)
		r := readings(w).Reservoirs[0]
		assert.True(t, r.TemperatureOK)
		assert.InDelta(t, want, float64(r.Temperature), 0.1)
	}
}

func TestUnknownFaultsAndPlacesSayWhatIsRight(t *testing.T) {
	w := world(t, oneBench())
	for want, f := range map[string]sim.Fault{
		"no such fault; one of air-lock":                                             {What: "pump-ded", Where: "north"},
		`"south" is not where it can happen; one of n`:                               {What: "pump-dead", Where: "south"},
		"one of flood_pump, stirrer, enable":                                         {What: "relay-open", Where: "north"},
		"one of north.full, north.high, north.empty, north.leak, tank.low, hands_in": {What: "wire-open", Where: "north"},
		"one of north, north.full":                                                   {What: "chatter", Where: "tank"},
		"one of tank":                                                                {What: "heat"},
		"leave the place out":                                                        {What: "power-cut", Where: "north"},
		"not between 0 and 1":                                                        {What: "pump-weak", Where: "north", Size: 1.5},
		"not between -1 and 1":                                                       {What: "clock-jump", Size: -2},
		"say how long":                                                               {What: "process-hang"},
	} {
		assert.ErrorContains(t, w.Inject(f), want)
	}
	assert.ErrorContains(t, w.Lift("north", true), "lift a float by hand")
	assert.ErrorContains(t, w.Lift("hands_in", true), "has no float")
}

func TestAThermometerDiesOrSticksAndIsMended(t *testing.T) {
	c := oneBench()
	c.Reservoirs[0].Thermometer = true
	w := world(t, c)
	r := safety.NewReadings(w.Shape())
	shown := func() (safety.Celsius, bool) {
		w.Read(w.Now(), r)
		return r.Reservoirs[0].Temperature, r.Reservoirs[0].TemperatureOK
	}
	require.NoError(t, w.Inject(sim.Fault{What: "thermometer-stuck", Where: "tank", At: 6 * time.Hour, For: 24 * time.Hour}))
	require.NoError(t, w.Inject(sim.Fault{What: "thermometer-dead", Where: "tank", At: 24 * time.Hour, For: time.Hour}))
	w.Advance(6 * time.Hour)
	at, _ := shown()
	w.Advance(12 * time.Hour)
	later, ok := shown()
	assert.True(t, ok)
	assert.Equal(t, at, later)
	assert.NotEqual(t, w.Truth().Reservoirs[0].Temperature, later, "the water went on")
	w.Advance(24 * time.Hour)
	_, ok = shown()
	assert.False(t, ok)
	w.Advance(31 * time.Hour)
	later, ok = shown()
	assert.True(t, ok)
	assert.Equal(t, w.Truth().Reservoirs[0].Temperature, later)
}

func TestSitesThatCannotBeBuiltAreRefused(t *testing.T) {
	for want, spoil := range map[string]func(*sim.Config){
		"no enable output":         func(c *sim.Config) { c.Outputs[pump].Enable = stirrer },
		"keep < usable":            func(c *sim.Config) { c.Reservoirs[0].Keep = 300 },
		"0 < crest < rim":          func(c *sim.Config) { c.Benches[0].Crest = 0.1 },
		"no such reservoir":        func(c *sim.Config) { c.Benches[0].Reservoir = 1 },
		"want pots":                func(c *sim.Config) { c.Benches[0].Batches[0].Top = 0 },
		"stirrer on output":        func(c *sim.Config) { c.Stirrers[0].Output = 9 },
		"pump's greatest head":     func(c *sim.Config) { c.Benches[0].Supply.MaxHead = 0 },
		"no room":                  func(c *sim.Config) { c.Benches[0].Batches[0].Count = 600 },
		"want a drain of bore":     func(c *sim.Config) { c.Benches[0].Drain = sim.Drain{Length: 1} },
		"enable 7 is no enable ou": func(c *sim.Config) { c.Outputs[pump].Enable = 7 },
	} {
		c := oneBench()
		spoil(&c)
		_, err := sim.New(c)
		assert.ErrorContains(t, err, want)
	}
}

func TestAFaultThatGrowsTakesItsWholeTimeToDoSo(t *testing.T) {
	flow := func(after time.Duration) float64 {
		w := world(t, oneBench())
		require.NoError(t, w.Inject(sim.Fault{What: "pump-weak", Where: "north", Over: 10 * 24 * time.Hour, Size: 0.5}))
		w.Advance(after)
		before := w.Truth().Totals.Moved
		w.Energise(pump, enable)
		w.Advance(after + time.Minute)
		return w.Truth().Totals.Moved - before
	}
	sound := flow(0)
	for days, want := range map[int]float64{1: 0.95, 5: 0.75, 10: 0.5, 20: 0.5} {
		assert.InEpsilon(t, want, flow(time.Duration(days)*24*time.Hour)/sound, 0.01, "after %d days", days)
	}
}

func TestWhatIsOverAtOnceCannotGrow(t *testing.T) {
	w := world(t, oneBench())
	assert.ErrorContains(t, w.Inject(sim.Fault{What: "process-crash", Over: time.Hour}), "only what lasts can grow")
	assert.Error(t, w.Inject(sim.Fault{What: "pump-weak", Where: "north", Over: -time.Hour}))
}
