package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The invariants of doc.go that the guard keeps by itself. The property test
// holds the same rules against chance.

func TestInvariant1NoPumpIsEnergisedUnlessAllowedInThisTurn(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.w.Benches[0] = RunWant{Pump: true, Flood: 1}
	assert.False(t, rg.g.Allow(rg.now, rg.w).Any(), "no turn is under way")
	rg.turn()
	require.True(t, rg.pump(0))
	assert.False(t, rg.g.Allow(rg.now, rg.w).Any(), "one turn makes one Command")
	rg.turn()
	assert.False(t, rg.pump(0), "and what was cut off does not go on")

	var zero Command
	assert.False(t, zero.Any())
	for _, i := range []int{-1, 0, MaxOutputs - 1, MaxOutputs} {
		assert.False(t, zero.On(i))
	}
}

func TestInvariant1AFailedReadingIsTheUnsafeOne(t *testing.T) {
	all := func() Limits {
		l := site(1)
		l.Benches[0].Empty, l.Benches[0].Leak, l.Reservoirs[0].Low = true, true, true
		return l
	}
	switches := func(rg *rig) []*Reading {
		b := &rg.r.Benches[0]
		return []*Reading{&b.Full, &b.High, &b.Empty, &b.Leak, &rg.r.Reservoirs[0].Low}
	}
	for n, name := range []string{"full", "high", "empty", "leak", "low"} {
		rg := newRig(t, all())
		rg.to(ready)
		require.False(t, rg.start(0).Refused())
		switches(rg)[n].Level = Fault
		assert.True(t, rg.start(0).Refused(), "%s refuses a start", name)
		rg.want(0, 1, 0)
		assert.False(t, rg.pump(0), name)
	}
	for n, name := range []string{"full", "high", "empty", "leak"} {
		rg := newRig(t, all())
		rg.flood(0, 1)
		switches(rg)[n].Level = Fault
		rg.wait(StaleAfter + tick)
		assert.False(t, rg.pump(0), "%s ends a run", name)
	}
}

func TestInvariant2EverythingIsOffAtStartAndAtStop(t *testing.T) {
	l := site(1)
	g := New(l, State{}, Now{}, "")
	w := NewWant(l)
	w.Benches[0].Pump, w.Stir[0], w.Other[lampOut] = true, true, true
	assert.False(t, g.Allow(Now{}, w).Any(), "nothing before the first reading")
	g.Observe(Now{}, NewReadings(l))
	c := g.Allow(Now{}, w)
	assert.False(t, c.On(l.Benches[0].Pump) || c.On(stirOut) || c.On(enableOut), "no switch was read")
	g.Stop(Now{})
	g.Observe(Now{}, NewReadings(l))
	assert.False(t, g.Allow(Now{}, w).Any())
}

func TestInvariant3NoRunOutlastsItsLimitWhateverTheWallClockDoes(t *testing.T) {
	for _, wall := range []time.Duration{-1000 * time.Hour, -time.Hour, time.Hour, 1000 * time.Hour} {
		rg := newRig(t, site(1))
		rg.filled(0, 1)
		for range 100 {
			rg.now.Wall = rg.now.Wall.Add(wall)
			rg.now.Trusted = !rg.now.Trusted
			rg.wait(5 * sec)
		}
		rg.tripped(0, MaxRun, true)
		assert.Equal(t, ready+600*sec, rg.b(0).Stopped)
	}
}

func TestInvariant4HighStopsThePumpInTheSameTurn(t *testing.T) {
	for _, after := range []time.Duration{0, tick, mins, 200 * sec, 400 * sec} {
		rg := newRig(t, site(1))
		rg.flood(0, 1)
		if after >= 200*sec {
			rg.wait(200 * sec)
			rg.full(0, Wet)
		}
		rg.to(ready + after)
		require.True(t, rg.pump(0))
		rg.r.Benches[0].High.Level = Wet
		rg.turn()
		assert.False(t, rg.pump(0) || rg.cmd.On(enableOut), "after %v", after)
	}
}

func TestInvariant5ALatchedTripSurvivesUntilAPersonResetsIt(t *testing.T) {
	rg := newRig(t, site(1))
	failFill(rg, 1, func() {})
	latched := rg.b(0).Latched
	require.Len(t, latched, 1)
	for n, boot := range []string{"boot-1", "boot-2", "", "boot-3", "boot-1"} {
		rg.now.Trusted = n%2 == 0
		rg.restart(time.Duration(n)*50*time.Hour, boot)
		rg.wait(3 * time.Hour)
		rg.want(0, int64(10+n), mins)
		assert.False(t, rg.pump(0))
		got := rg.b(0).Latched
		require.Len(t, got, 1)
		assert.Equal(t, latched[0].Interlock, got[0].Interlock)
		assert.Equal(t, latched[0].Detail, got[0].Detail)
		assert.True(t, got[0].Latched)
	}
	require.NoError(t, rg.g.Reset(rg.now, 0, "clogged screen"))
	rg.wait(0)
	assert.True(t, rg.pump(0))
}

func TestInvariant6NeverTwoFloodsAtOnceOnOneReservoir(t *testing.T) {
	rg := newRig(t, site(2))
	rg.to(ready)
	rg.w.Benches[0] = RunWant{Pump: true, Flood: 1}
	rg.w.Benches[1] = RunWant{Pump: true, Flood: 2}
	rg.turn()
	assert.True(t, rg.pump(0))
	assert.False(t, rg.pump(1), "wanted in the same turn")
	rg.wait(200 * sec)
	rg.full(0, Wet)
	rg.wait(mins)
	rg.unwant(0)
	stopped := rg.now.Mono
	rg.wait(mins)
	rg.full(0, Dry)
	rg.to(stopped + 10*mins - tick)
	assert.False(t, rg.pump(1))
	assert.Equal(t, ReservoirLow, rg.start(1).Interlock)
	rg.wait(tick)
	rg.wait(0)
	assert.True(t, rg.pump(1), "the water of the first is gone")

	rg.restart(0, "boot-1")
	rg.w.Benches[0] = RunWant{Pump: true, Flood: 3}
	rg.wait(10*mins - tick)
	assert.False(t, rg.cmd.Any(), "a table that a restart forgot counts as full")
}

func TestInvariant9TheEnableRelayPartsAWeldedPump(t *testing.T) {
	rg := newRig(t, site(1))
	stopped := drained(rg)
	rg.to(stopped + 150*sec - tick)
	assert.True(t, rg.cmd.On(enableOut), "the weld keeps FULL made")
	rg.wait(tick)
	assert.False(t, rg.cmd.On(enableOut), "bound: 1.5 falls after the stop")
	rg.wait(100 * sec)
	rg.full(0, Dry)
	rg.wait(time.Hour)
	assert.True(t, rg.told(WeldProven, 0, DrainWindow))
	rg.w.Stir[0] = true
	rg.want(0, 2, mins)
	assert.False(t, rg.cmd.Any(), "nothing behind it closes until a person resets")
}

func TestInvariant10RestartsDoNotDoubleAFlood(t *testing.T) {
	rg := newRig(t, site(1))
	rg.filled(0, 1)
	rg.restart(0, "boot-1")
	rg.r.Benches[0].Full.Level = Dry
	rg.want(0, 1, mins)
	restarted := rg.now.Mono
	rg.to(restarted + 12*mins - tick)
	assert.False(t, rg.pump(0), "the flood that was cut off does not go on over its own water")
}
