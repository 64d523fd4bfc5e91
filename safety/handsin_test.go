package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHandsInStopsRunsAndRefusesStarts(t *testing.T) {
	for name, c := range map[string]struct {
		on, off func(*rig)
		ends    time.Duration
	}{
		"by command": {
			func(rg *rig) { rg.g.SetHandsIn(rg.now, true) }, func(rg *rig) { rg.g.SetHandsIn(rg.now, false) }, 0},
		"by button": {
			func(rg *rig) { rg.r.HandsIn.Level = Wet }, func(rg *rig) { rg.r.HandsIn.Level = Dry }, 3 * sec},
		"by a broken button": {
			func(rg *rig) { rg.r.HandsIn.Level = Fault }, func(rg *rig) { rg.r.HandsIn.Level = Dry }, 3 * sec},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, twoTanks())
			drained(rg)
			rg.flood(1, 2)
			rg.w.Stir[0] = true
			c.on(rg)
			rg.turn()
			assert.False(t, rg.cmd.Any())
			rg.tripped(1, HandsIn, false)
			assert.Equal(t, HandsIn, rg.start(0).Interlock)
			assert.True(t, rg.view.HandsIn)
			rg.wait(mins)
			c.off(rg)
			rg.wait(0)
			rg.wait(c.ends)
			assert.False(t, rg.view.HandsIn)
			rg.wait(0)
			var told []Level
			for _, e := range rg.events {
				if e.Switch == "hands_in" {
					told = append(told, e.Level)
				}
			}
			assert.Equal(t, []Level{Wet, Dry}, told)
		})
	}
}

func TestProofTestOnlyRecords(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Leak, l.Reservoirs[0].Low = true, true })
	rg.to(time.Hour)
	require.ErrorContains(t, rg.g.ProofTest(rg.now, 0, true), "give hands-in first")
	require.ErrorContains(t, rg.g.ProofTest(rg.now, 3, true), "no bench 3")
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	for range 5 {
		for _, l := range []Level{Wet, Dry} {
			rg.r.Benches[0].Leak.Level = l
			rg.r.Reservoirs[0].Low.Level = l
			rg.full(0, l)
			rg.high(0, l)
			rg.wait(5 * sec)
		}
	}
	assert.Empty(t, rg.b(0).Latched)
	assert.False(t, rg.told(Tripped, 0, HighLevel))
	tested := map[string]int{}
	for _, e := range rg.events {
		if e.Kind == ProofTested {
			tested[e.Switch]++
		}
	}
	assert.Equal(t, map[string]int{"full": 10, "high": 10, "leak": 10, "low": 9}, tested)

	require.NoError(t, rg.g.ProofTest(rg.now, 0, false))
	rg.high(0, Wet)
	rg.wait(sec)
	assert.True(t, rg.latched(0, HighLevel), "the test is over")
}

func TestProofTestEndsWithHandsIn(t *testing.T) {
	rg := handsIn(t, site(1))
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	rg.high(0, Wet)
	rg.full(0, Wet)
	rg.wait(time.Hour)
	rg.g.SetHandsIn(rg.now, false)
	rg.wait(0)
	assert.Empty(t, rg.b(0).Latched, "what the switches show now counts from now")
	assert.Equal(t, HighLevel, rg.start(0).Interlock)
	rg.wait(sec)
	assert.True(t, rg.latched(0, HighLevel))
}

func TestProofTestWaitsForTheWater(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	failFill(rg, 1, func() { rg.low(Dry) })
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	require.ErrorContains(t, rg.g.ProofTest(rg.now, 0, true), "waits for the water")
	rg.to(rg.b(0).Stopped + 15*mins - tick)
	require.ErrorContains(t, rg.g.ProofTest(rg.now, 0, true), "waits for the water", "not known to be home")
	rg.wait(tick)
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	rg.g.latch(0, Chatter, "found under the test")
	assert.True(t, rg.latched(0, Chatter))
	rg.g.trip(0, Chatter, true, "under the test")
	assert.False(t, rg.told(Tripped, 0, Chatter))
}

func TestHandsInByCommandStaysAcrossARestart(t *testing.T) {
	rg := newRig(t, site(1))
	rg.g.SetHandsIn(rg.now, true)
	assert.True(t, rg.g.Dirty())
	g := New(site(1), rg.g.State(), rg.now, "another boot")
	assert.True(t, g.Observe(rg.now, rg.r).HandsIn)
	g.SetHandsIn(rg.now, false)
	assert.False(t, g.Observe(rg.now, rg.r).HandsIn)

	rg = newRig(t, site(1))
	rg.flood(0, 1)
	require.True(t, rg.g.Dirty())
	rg.g.SetHandsIn(rg.now, false)
	assert.True(t, rg.g.Dirty(), "the run that began is still to be stored")
}

func TestNoRunStartsBeforeTheSwitchesAreReadAfterAProofTest(t *testing.T) {
	l := site(1)
	l.Reservoirs[0].Low = true
	rg := handsIn(t, l)
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	rg.high(0, Wet)
	rg.w.Benches[0] = RunWant{Pump: true, Flood: 1}
	rg.g.SetHandsIn(rg.now, false)
	rg.turn()
	assert.False(t, rg.pump(0), "in the turn that ends the test nothing was read of it")
	rg.turn()
	assert.False(t, rg.pump(0), "HIGH is still lifted")
}

func TestABenchWithoutALowSwitchFloodsAfterAProofTest(t *testing.T) {
	rg := handsIn(t, site(1))
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	rg.g.SetHandsIn(rg.now, false)
	rg.wait(sec)
	rg.flood(0, 1)
}

func TestAProofTestDoesNotCountAsChatterLater(t *testing.T) {
	l := site(1)
	l.Reservoirs[0].Low = true
	rg := handsIn(t, l)
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	for range 3 {
		rg.low(Dry)
		rg.wait(5 * sec)
		rg.low(Wet)
		rg.wait(5 * sec)
	}
	rg.g.SetHandsIn(rg.now, false)
	rg.wait(sec)
	rg.flood(0, 1)
	rg.low(Dry)
	rg.wait(5 * sec)
	assert.True(t, rg.pump(0), "the flood draws the reservoir down")
	assert.False(t, rg.latched(0, Chatter))
}

func TestAWishUnderHandsInDoesNotKeepTheGuardTurning(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.g.SetHandsIn(rg.now, true)
	rg.want(0, 1, mins) // the rig fails when time stands still
	assert.False(t, rg.pump(0))
	assert.Greater(t, rg.g.Next(), rg.now.Mono)
}

func TestHandsInIsSeenAtOnceThoughTheBoardIsLostWithEveryPumpOff(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.g.SetHandsIn(rg.now, true)
	rg.g.Lost(rg.now, "line busy")
	assert.Equal(t, rg.now.Mono, rg.g.Next())
}

// Who ends hands-in finds the enable relay open, though FULL still shows the water of
// the run before.
func TestEnableIsNotClosedAgainWhenHandsInEnds(t *testing.T) {
	rg := newRig(t, site(1))
	drained(rg)
	require.True(t, rg.cmd.On(enableOut), "until FULL clears")
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(10 * sec)
	require.False(t, rg.cmd.On(enableOut))
	rg.g.SetHandsIn(rg.now, false)
	rg.wait(sec)
	assert.False(t, rg.cmd.On(enableOut))
}

// A float that a person lifts for one bench is no trouble of its neighbour.
func TestAProofTestOfTheLowSwitchLatchesNoBenchOfItsReservoir(t *testing.T) {
	l := site(2)
	l.Reservoirs[0].Low = true
	rg := handsIn(t, l)
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	for range 5 {
		rg.low(Dry)
		rg.wait(5 * sec)
		rg.low(Wet)
		rg.wait(5 * sec)
	}
	assert.False(t, rg.latched(0, Chatter))
	assert.False(t, rg.latched(1, Chatter))
}

func TestAProofTestWaitsForTheWaterOfItsOwnReservoirAlone(t *testing.T) {
	rg := newRig(t, twoTanks())
	drained(rg)
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	require.ErrorContains(t, rg.g.ProofTest(rg.now, 0, true), "waits for the water")
	assert.NoError(t, rg.g.ProofTest(rg.now, 1, true))
}
