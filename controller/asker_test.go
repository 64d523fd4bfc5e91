package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

var (
	near    = Asker{}
	far     = Asker{Far: true}
	farSure = Asker{Far: true, Sure: true}
)

func atRest(t *testing.T) *rig {
	r := newRig(t, testSetup(2, 40*time.Hour, "21:00"), "2026-03-02 11:00")
	r.run(time.Hour)
	r.turn()
	return r
}

func TestWhoIsFarFloodsWithTheWordThatNobodyWorksInTheBench(t *testing.T) {
	for by, want := range map[Asker]error{near: nil, farSure: nil, far: ErrUnsure, {Sure: true}: nil} {
		assert.Equal(t, want, atRest(t).control.FloodNow(atRest(t).now, 0, 0, by), "%+v", by)
	}
	r := atRest(t)
	r.guard.SetHandsIn(r.now, true)
	r.turn()
	var guard ErrGuard
	require.ErrorAs(t, r.control.FloodNow(r.now, 0, 0, far), &guard, "under hands-in the guard's own reason is given")
	assert.Equal(t, safety.HandsIn, guard.Interlock)
}

func TestHandsInIsEndedFromFarWithTheWord(t *testing.T) {
	c, now := atRest(t).control, atRest(t).now
	assert.Equal(t, ErrUnsure, c.HandsIn(now, false, far))
	assert.NoError(t, c.HandsIn(now, false, farSure))
	assert.NoError(t, c.HandsIn(now, false, near))
	assert.NoError(t, c.HandsIn(now, true, far), "to begin it is everybody's")
	assert.NoError(t, c.FloodNow(now, 0, 0, farSure), "and holds nobody, from far")
}

func TestWhoStandsAtTheBenchWins(t *testing.T) {
	for name, stop := range map[string]func(r *rig){
		"a stop with nothing to end": func(r *rig) { assert.Error(t, r.control.StopNow(r.now, 0, near)) },
		"a stop of a flood": func(r *rig) {
			require.NoError(t, r.control.FloodNow(r.now, 0, 0, near))
			r.turn()
			require.NoError(t, r.control.StopNow(r.now, 0, near))
			r.turn()
		},
		"hands-in": func(r *rig) {
			require.NoError(t, r.control.HandsIn(r.now, true, near))
			require.NoError(t, r.control.HandsIn(r.now, false, near))
		},
	} {
		r := atRest(t)
		stop(r)
		began := r.now
		at := func(d time.Duration) safety.Now {
			return safety.Now{Mono: began.Mono + d, Wall: began.Wall.Add(d), Trusted: true}
		}
		var stopped ErrStopped
		require.ErrorAs(t, r.control.FloodNow(at(nearWins-1), 0, 0, farSure), &stopped, name)
		assert.Equal(t, began.Wall.Add(nearWins), stopped.Until, name)
		if name != "hands-in" {
			assert.NoError(t, r.control.FloodNow(at(time.Minute), 1, 0, farSure), "%s: the other bench", name)
		}
		set := at(nearWins - 1)
		set.Wall = set.Wall.Add(-5 * time.Hour)
		assert.ErrorAs(t, r.control.FloodNow(set, 0, 0, farSure), &stopped, "%s: whatever becomes of the clock", name)
		again, err := Resume(r.setup, set, r.control.State("boot"), "boot")
		require.NoError(t, err)
		assert.ErrorAs(t, again.FloodNow(set, 0, 0, farSure), &stopped, "%s: over a restart", name)
		assert.NoError(t, r.control.FloodNow(at(nearWins), 0, 0, farSure), name)
	}
	r := atRest(t)
	assert.Error(t, r.control.StopNow(r.now, 0, far), "nothing to stop")
	assert.NoError(t, r.control.FloodNow(r.now, 0, 0, farSure), "a stop from far holds nobody")
	assert.NoError(t, atRest(t).control.FloodNow(r.now, 0, 0, near))
	r = atRest(t)
	assert.Error(t, r.control.StopNow(r.now, 0, near), "nothing to stop")
	assert.NoError(t, r.control.FloodNow(r.now, 0, 0, near), "and whoever stopped it may flood")
	r = newRig(t, testSetup(1, 40*time.Hour, "21:00"), "2026-03-02 11:00")
	assert.NoError(t, r.control.FloodNow(r.now, 0, 0, near), "before the first turn nobody knows better")
	assert.ErrorIs(t, r.control.FloodNow(r.now, 7, 0, near), errNoBench)
	assert.ErrorIs(t, r.control.StopNow(r.now, 7, near), errNoBench)
}

func TestAFloodThatTheGuardWouldRefuseIsRefusedAtOnce(t *testing.T) {
	r := atRest(t)
	r.tables[0].lowDry = true
	r.run(time.Minute)
	r.turn()
	var guard ErrGuard
	require.ErrorAs(t, r.control.FloodNow(r.now, 0, 0, near), &guard)
	assert.Equal(t, safety.ReservoirLow, guard.Interlock)
	assert.Contains(t, guard.Error(), "reservoir-low")
	assert.Empty(t, r.control.benches[0].queue)
}
