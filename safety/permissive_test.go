package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each step adds a reason that comes before all that were added so far.
func TestTheFirstPermissiveThatSaysNoIsTheReason(t *testing.T) {
	l := site(2)
	l.Benches[0].Empty, l.Benches[0].Leak, l.Reservoirs[0].Low = true, true, true
	rg := newRig(t, l)
	rg.to(40 * time.Hour)
	b := &rg.g.benches[0]
	require.False(t, rg.start(0).Refused())
	for _, step := range []struct {
		add  func()
		want Interlock
	}{
		{func() { rg.r.Reservoirs[0].Temperature = 2 }, Cold},
		{func() { rg.r.Reservoirs[0].Low.Level = Dry }, ReservoirLow},
		{func() { b.runs.begin(39 * time.Hour); b.runs.end(39*time.Hour + 36*mins) }, DailyRun},
		{func() {
			for range 6 {
				b.runs.begin(rg.now.Mono)
			}
		}, Starts},
		{func() { b.rest = rg.now.Mono + time.Hour }, MinRest},
		{func() { rg.g.storm.storms = []time.Duration{rg.now.Mono} }, RestartStorm},
		{func() { b.run.homing, b.run.stopped = true, rg.now.Mono }, FillWindow},
		{func() { rg.r.Benches[0].Empty.Level = Wet }, NotEmpty},
		{func() { rg.r.Benches[0].Full.Level = Fault }, Stale},
		{func() { rg.r.Benches[0].Leak.Level = Wet }, LeakFound},
		{func() { rg.r.Benches[1].High.Level = Wet }, HighLevel},
		{func() { rg.g.SetHandsIn(rg.now, true) }, HandsIn},
		{func() { rg.g.benches[1].run.judging = true }, DrainWindow},
		{func() { rg.g.latch(0, Chatter, "switch") }, Chatter},
	} {
		step.add()
		rg.turn()
		refusal := rg.view.Benches[0].Start
		assert.Equal(t, step.want, refusal.Interlock)
		assert.NotEmpty(t, refusal.Detail)
		assert.Equal(t, step.want == Chatter, refusal.Latched)
		rg.w.Benches[0] = RunWant{Pump: true, Flood: 9}
		rg.turn()
		assert.False(t, rg.pump(0))
	}
}

func TestRawWaterAtASwitchRefusesAStart(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty = true })
	rg.to(ready)
	rg.full(0, Wet)
	assert.Equal(t, NotEmpty, rg.start(0).Interlock)
	rg.full(0, Dry)
	assert.False(t, rg.start(0).Refused())
	rg.empty(0, Wet)
	assert.Equal(t, NotEmpty, rg.start(0).Interlock)
}

func TestUnreadableLowSwitchRefusesAStart(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	rg.to(ready)
	rg.low(Fault)
	assert.Equal(t, Stale, rg.start(0).Interlock)
}

func TestColdSolutionRefusesAStart(t *testing.T) {
	for _, c := range []struct {
		temperature Celsius
		ok          bool
		refuses     bool
	}{{2.01, true, false}, {2, true, true}, {1.99, true, true}, {-40, false, false}} {
		rg := newRig(t, site(1))
		rg.to(ready)
		rg.r.Reservoirs[0].Temperature, rg.r.Reservoirs[0].TemperatureOK = c.temperature, c.ok
		assert.Equal(t, c.refuses, rg.start(0).Interlock == Cold, "%v", c.temperature)
	}
}

func TestLowReservoirRefusesAndSaysHowMuchIsNeeded(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	rg.to(ready)
	rg.low(Dry)
	assert.Equal(t, ReservoirLow, rg.start(0).Interlock, "raw at once")
	assert.Contains(t, rg.start(0).Detail, "needs 100 L above the 20 L kept")
	rg.wait(3 * sec)
	rg.low(Wet)
	assert.Equal(t, ReservoirLow, rg.start(0).Interlock)
	rg.wait(sec)
	assert.False(t, rg.start(0).Refused())
}

func TestALatchedBenchGivesItsWaterUp(t *testing.T) {
	for name, c := range map[string]struct {
		reservoir ReservoirLimits
		refuses   bool
	}{
		"usable holds both":           {ReservoirLimits{Usable: 220, Keep: 20}, false},
		"usable holds one":            {ReservoirLimits{Usable: 219, Keep: 20}, true},
		"a made low switch proves it": {ReservoirLimits{Usable: 150, Keep: 20, Low: true, LowAt: 120}, false},
	} {
		t.Run(name, func(t *testing.T) {
			l := site(2)
			l.Reservoirs[0] = c.reservoir
			rg := newRig(t, l)
			rg.flood(0, 1)
			assert.Equal(t, ReservoirLow, rg.start(1).Interlock, "its water is out")
			rg.high(0, Wet)
			rg.wait(2 * sec)
			rg.high(0, Dry)
			rg.wait(4 * sec)
			require.True(t, rg.latched(0, HighLevel))
			require.Equal(t, Standing, rg.b(0).Water)
			assert.Equal(t, c.refuses, rg.start(1).Interlock == ReservoirLow, "%v", rg.start(1))
		})
	}
}

// What a latched bench has given back is in the reservoir again: it counts neither
// as given up nor as standing.
func TestALatchedBenchWhoseTableIsBareTakesNothingFromItsReservoir(t *testing.T) {
	for name, with := range map[string]func(*Limits){
		"by FULL and time": func(*Limits) {},
		"by EMPTY":         func(l *Limits) { l.Benches[0].Empty = true },
	} {
		l := site(2)
		l.Reservoirs[0] = ReservoirLimits{Usable: 219, Keep: 20} // of two floods of 100 L one litre is missing
		with(&l)
		rg := newRig(t, l)
		rg.flood(0, 1)
		rg.empty(0, Wet)
		rg.high(0, Wet)
		rg.wait(2 * sec)
		rg.high(0, Dry)
		rg.wait(4 * sec)
		require.True(t, rg.latched(0, HighLevel), name)
		require.Equal(t, ReservoirLow, rg.start(1).Interlock, "%s: its water is out", name)
		rg.empty(0, Dry)
		rg.wait(l.Benches[0].Drain)
		require.Equal(t, Gone, rg.b(0).Water, name)
		require.NotEmpty(t, rg.b(0).Latched)
		assert.False(t, rg.start(1).Refused(), "%s: %+v", name, rg.start(1))
		rg.flood(1, 2)
		rg.wait(rg.l.Benches[1].Fill)
		assert.Equal(t, rg.now.Mono-rg.l.Benches[1].Fill+398*sec, rg.g.benches[1].run.keepAt, "%s: litres are counted from all that is usable", name)
	}
	rg := newRig(t, site(2)) // a bench that latches at rest had none out
	rg.l.Reservoirs[0].Usable = 125
	rg = newRig(t, rg.l)
	rg.to(ready)
	rg.high(0, Wet)
	rg.wait(2 * sec)
	rg.high(0, Dry)
	rg.wait(4 * sec)
	require.True(t, rg.latched(0, HighLevel))
	assert.False(t, rg.start(1).Refused(), "%+v", rg.start(1))
}

func TestCountBeginsBelowWhatALatchedBenchHolds(t *testing.T) {
	l := site(2)
	l.Reservoirs[0] = ReservoirLimits{Usable: 230, Keep: 20}
	rg := newRig(t, l)
	rg.flood(0, 1)
	rg.high(0, Wet)
	rg.wait(2 * sec)
	rg.high(0, Dry)
	rg.wait(4 * sec)
	rg.flood(1, 2)
	rg.wait(220*sec - tick) // 230 - 100 - 20 litres at half a litre a second
	assert.True(t, rg.pump(1))
	rg.wait(tick)
	rg.tripped(1, ReservoirLow, false)
}
