package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFullHasToBeMadeWithinItsWindow(t *testing.T) {
	for name, c := range map[string]struct {
		after time.Duration // FULL is made this long after the start
		trips bool
	}{
		"just before half the fill": {100*sec - tick, true},
		"at half the fill":          {100 * sec, false},
		"just after half the fill":  {100*sec + tick, false},
		"just before 1.5 fills":     {300*sec - tick, false},
		"at 1.5 fills":              {300 * sec, false},
		"just after 1.5 fills":      {300*sec + tick, true},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, site(1))
			rg.flood(0, 1)
			rg.arrive(ready + c.after)
			rg.full(0, Wet)
			rg.wait(2 * sec)
			assert.Equal(t, !c.trips, rg.pump(0))
			if c.trips {
				rg.tripped(0, FillWindow, true)
			}
		})
	}
}

func TestFullThatWasOnlyAWaveAtTheEndOfTheWindowTrips(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	rg.wait(300*sec - tick)
	rg.full(0, Wet)
	rg.wait(sec / 2)
	assert.True(t, rg.pump(0), "on its way in time")
	rg.full(0, Dry)
	rg.tripped(0, FillWindow, true)
}

func TestFullMayBeLostForShort(t *testing.T) {
	lose := func() *rig {
		rg := newRig(t, site(1))
		rg.filled(0, 1)
		rg.full(0, Dry)
		rg.wait(10*sec - tick)
		assert.True(t, rg.pump(0), "one step before")
		return rg
	}
	rg := lose()
	rg.full(0, Wet)
	rg.wait(sec - 2*tick)
	assert.False(t, rg.pump(0), "FULL was not back for a second")

	rg = lose()
	rg.wait(tick)
	rg.tripped(0, FillWindow, true)
}

func TestBenchWithoutFullHasNoFillWindow(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Full = false })
	rg.flood(0, 1)
	rg.wait(301 * sec)
	assert.True(t, rg.pump(0))
}

// failFill floods bench 0 and lets FULL fail; the pump has stopped then.
func failFill(rg *rig, flood int64, before func()) {
	rg.flood(0, flood)
	rg.wait(mins)
	before()
	rg.wait(4 * mins)
	require.False(rg.t, rg.pump(0))
	require.Equal(rg.t, FillWindow, rg.b(0).Trip.Interlock)
	rg.unwant(0)
}

func TestFailedFillThatNothingCanFollowLatchesAtOnce(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	failFill(rg, 1, func() {})
	rg.tripped(0, FillWindow, true)
}

func TestFailedFillIsRetriedWhenEmptyShowsTheWaterHome(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty = true })
	failFill(rg, 1, func() { rg.empty(0, Wet) })
	stopped := rg.now.Mono
	rg.tripped(0, FillWindow, false)
	assert.False(t, rg.b(0).Retry)
	rg.wait(5 * mins)
	rg.empty(0, Dry)
	rg.wait(3 * sec)
	assert.True(t, rg.b(0).Retry)
	assert.True(t, rg.told(RetryAllowed, 0, FillWindow))

	rg.to(stopped + 12*mins)
	rg.w.Benches[0] = RunWant{Pump: true, Flood: 1, Attempt: 1}
	rg.wait(0)
	require.True(t, rg.pump(0), "%+v", rg.start(0))
	assert.False(t, rg.b(0).Retry)
	rg.wait(20 * sec)
	rg.empty(0, Wet)
	rg.wait(5 * mins)
	rg.tripped(0, FillWindow, true)
}

func TestFailedFillHasUntilItsTimeToComeHome(t *testing.T) {
	for name, c := range map[string]struct {
		cleared time.Duration // after the stop
		retry   bool
	}{
		"one step before": {15*mins - tick, true},
		"at the limit":    {15 * mins, true},
		"one step after":  {15*mins + tick, false},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
			failFill(rg, 1, func() { rg.low(Dry) })
			stopped := rg.b(0).Stopped
			rg.arrive(stopped + c.cleared)
			rg.low(Wet)
			rg.wait(5 * sec)
			assert.Equal(t, c.retry, rg.b(0).Retry)
			assert.Equal(t, !c.retry, rg.latched(0, FillWindow))
		})
	}
}

func TestNothingStartsWhileAFailedFillMayComeHome(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	failFill(rg, 1, func() { rg.low(Dry) })
	rg.wait(14 * mins)
	refusal := rg.start(0)
	assert.Equal(t, FillWindow, refusal.Interlock)
	assert.False(t, refusal.Latched)
	assert.Equal(t, rg.b(0).Stopped+15*mins, refusal.Until)
}

func TestSwitchesThatNeverMovedDoNotSayThatWaterCameHome(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty, l.Reservoirs[0].Low = true, true })
	failFill(rg, 1, func() {})
	stopped := rg.b(0).Stopped
	rg.to(stopped + 15*mins - tick)
	assert.Empty(t, rg.b(0).Latched)
	rg.wait(tick)
	assert.True(t, rg.latched(0, FillWindow))
	assert.False(t, rg.b(0).Retry)
}

func TestWaterOfAFailedFillStandsUntilItIsKnownToBeHome(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	failFill(rg, 1, func() { rg.low(Dry) })
	rg.to(rg.b(0).Stopped + 12*mins)
	assert.Equal(t, Standing, rg.b(0).Water)
	rg.low(Wet)
	rg.wait(sec)
	assert.True(t, rg.b(0).Retry)
	assert.Equal(t, Gone, rg.b(0).Water, "so that the flood does not end before its retry is known")
	assert.Equal(t, rg.now.Mono, rg.b(0).GoneAt)
}

func TestReservoirThatFellBeforeTheRunProvesNothing(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	rg.flood(0, 1)
	rg.wait(5 * mins)
	rg.low(Dry)
	rg.wait(3 * sec)
	rg.low(Wet)
	rg.tripped(0, FillWindow, true)
}

func TestTheRetryIsSpentUntilAFloodIsProven(t *testing.T) {
	fail := func(rg *rig, flood int64) {
		failFill(rg, flood, func() { rg.low(Dry) })
		rg.wait(5 * mins)
		rg.low(Wet)
		rg.wait(15 * mins)
	}
	for _, proven := range []bool{false, true} {
		rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
		fail(rg, 1)
		require.True(t, rg.b(0).Retry)
		rg.g.FloodEnded(0, proven)
		fail(rg, 2)
		assert.Equal(t, proven, rg.b(0).Retry)
		assert.Equal(t, !proven, rg.latched(0, FillWindow))
	}
}

func TestDrainedFloorLatchesAtTheSecondFailedSlotInARow(t *testing.T) {
	for _, proven := range []bool{false, true} {
		rg := rigWith(t, func(l *Limits) { l.FloorDrained = true })
		failFill(rg, 1, func() {})
		rg.tripped(0, FillWindow, false)
		assert.False(t, rg.b(0).Retry, "nothing tells that the water came home")
		rg.g.FloodEnded(0, proven)
		rg.wait(time.Hour)
		failFill(rg, 2, func() {})
		assert.Equal(t, !proven, rg.latched(0, FillWindow))
	}
}

func TestDrainedFloorLatchesAtOnceWhenTheReservoirLostItsWater(t *testing.T) {
	for _, recovers := range []bool{false, true} {
		rg := rigWith(t, func(l *Limits) { l.FloorDrained, l.Reservoirs[0].Low = true, true })
		failFill(rg, 1, func() { rg.low(Dry) })
		rg.wait(12 * mins)
		assert.False(t, rg.b(0).Retry)
		assert.Empty(t, rg.b(0).Latched)
		if recovers {
			rg.low(Wet)
		}
		rg.wait(4 * mins)
		assert.Equal(t, recovers, rg.b(0).Retry)
		assert.Equal(t, !recovers, rg.latched(0, FillWindow))
	}
}

func TestDrainedFloorForgivesAFillThatMovedNoWater(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.FloorDrained, l.Reservoirs[0].Low = true, true })
	failFill(rg, 1, func() {})
	rg.wait(time.Hour)
	assert.Empty(t, rg.b(0).Latched)
}

func TestFloodEndedIgnoresAnUnknownBench(t *testing.T) {
	rg := newRig(t, site(1))
	rg.g.FloodEnded(4, true)
	assert.False(t, rg.g.Dirty())
}

func TestStaleSwitchStopsARunAndLatchesWhenRepeated(t *testing.T) {
	rg := newRig(t, site(1))
	stale := func(flood int64) {
		rg.flood(0, flood)
		rg.frozen = true
		rg.wait(500 * tick)
		assert.True(t, rg.pump(0), "500 ms old is not stale")
		rg.wait(tick)
		assert.False(t, rg.pump(0))
		assert.False(t, rg.cmd.On(enableOut), "enable opens at once")
	}
	stale(1)
	rg.tripped(0, Stale, false)
	assert.Equal(t, Stale, rg.start(0).Interlock)
	rg.frozen = false
	rg.wait(time.Hour)
	stale(2)
	rg.tripped(0, Stale, true)
}

func TestFailedReadingGoesStaleByItself(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	rg.full(0, Fault)
	rg.wait(mins)
	rg.tripped(0, Stale, false)
	assert.Equal(t, ready+500*tick+1, rg.b(0).Trip.At)
}

func TestStaleLatchesOnlyWithinADay(t *testing.T) {
	rg := newRig(t, site(1))
	for flood := range int64(2) {
		rg.flood(0, flood+1)
		rg.full(0, Fault)
		rg.wait(sec)
		rg.tripped(0, Stale, false)
		rg.full(0, Dry)
		rg.wait(24 * time.Hour)
	}
}

func TestCountedLitresStopTheRunBeforeTheReservoirIsDry(t *testing.T) {
	for name, c := range map[string]struct {
		with  func(*Limits)
		after time.Duration // 0: never
	}{
		"from the low switch":         {func(l *Limits) { l.Reservoirs[0].Low, l.Reservoirs[0].LowAt = true, 140 }, 240 * sec},
		"from usable without one":     {func(l *Limits) { l.Reservoirs[0].Usable = 150 }, 260 * sec},
		"no flow, no count":           {func(l *Limits) { l.Benches[0].Flow = 0 }, 0},
		"timed run counts until fill": {func(l *Limits) { l.Benches[0].Full = false }, 0},
		"a day and more is not held":  {func(l *Limits) { l.Benches[0].Flow = 1e-9 }, 0},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, c.with)
			rg.flood(0, 1)
			if c.after == 0 {
				rg.wait(299 * sec)
				assert.True(t, rg.pump(0))
				return
			}
			rg.wait(c.after - tick)
			assert.True(t, rg.pump(0), "one step before")
			rg.wait(tick)
			rg.tripped(0, ReservoirLow, false)
		})
	}
}

func TestLitresCountedOutAreAFailedFillWhenNothingGatesTheNextRun(t *testing.T) {
	for _, low := range []bool{false, true} {
		rg := rigWith(t, func(l *Limits) {
			l.Reservoirs[0] = ReservoirLimits{Name: "tank", Usable: 150, Keep: 20, Low: low, LowAt: 150}
		})
		rg.flood(0, 1)
		rg.wait(260 * sec)
		rg.tripped(0, ReservoirLow, false)
		assert.Equal(t, !low, rg.latched(0, FillWindow))
	}
}

func TestLitresStandOnceFullIsMade(t *testing.T) {
	for name, c := range map[string]struct {
		made  time.Duration
		trips bool
	}{
		"one step before keep": {240*sec - tick, false},
		"at keep":              {240 * sec, false},
		"one step after":       {240*sec + tick, true},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low, l.Reservoirs[0].LowAt = true, 140 })
			rg.flood(0, 1)
			rg.arrive(ready + c.made)
			rg.full(0, Wet)
			rg.wait(mins)
			assert.Equal(t, !c.trips, rg.pump(0))
		})
	}
}

func TestALatchEndsTheWaitForTheWaterOfAFailedFill(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	failFill(rg, 1, func() { rg.low(Dry) })
	rg.high(0, Wet)
	rg.wait(2 * sec)
	require.True(t, rg.latched(0, HighLevel))
	assert.False(t, rg.g.State().Benches["north"].Homing)
	rg.high(0, Dry)
	rg.low(Wet)
	rg.wait(5 * sec)
	assert.False(t, rg.b(0).Retry, "a latched bench is not tried again by itself")
	assert.False(t, rg.told(RetryAllowed, 0, FillWindow))
}
