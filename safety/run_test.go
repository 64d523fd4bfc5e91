package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRunIsFollowedFromStartUntilTheWaterIsGone(t *testing.T) {
	rg := newRig(t, site(1))
	rg.filled(0, 7)
	b := rg.b(0)
	assert.True(t, b.Pump)
	assert.EqualValues(t, 7, b.Flood)
	assert.Equal(t, ready, b.Started)
	assert.Equal(t, ready+200*sec, b.FullAt, "FULL counts from its raw change")
	assert.Equal(t, sec, b.FullFor)
	assert.Equal(t, Standing, b.Water)

	rg.wait(5*mins - sec)
	assert.Equal(t, 5*mins, rg.b(0).FullFor)
	rg.unwant(0)
	stopped := rg.now.Mono
	assert.False(t, rg.pump(0))
	assert.True(t, rg.cmd.On(enableOut), "enable waits for FULL to clear")
	rg.wait(100 * sec)
	rg.full(0, Dry)
	assert.True(t, rg.cmd.On(enableOut))
	rg.wait(3 * sec)
	assert.False(t, rg.cmd.Any())

	rg.to(stopped + 10*mins - tick)
	assert.Equal(t, Standing, rg.b(0).Water)
	rg.wait(tick)
	b = rg.b(0)
	assert.Equal(t, Gone, b.Water)
	assert.Equal(t, stopped+10*mins, b.GoneAt)
	assert.Equal(t, stopped, b.Stopped)
	assert.Equal(t, 5*mins, b.FullFor)
	assert.False(t, b.LateGone)
	assert.Zero(t, b.Trip)
	assert.Empty(t, b.Latched)
}

func TestEmptySaysWhenTheWaterIsGone(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty = true })
	rg.flood(0, 1)
	rg.wait(20 * sec)
	rg.empty(0, Wet)
	rg.wait(180 * sec)
	rg.full(0, Wet)
	rg.wait(mins)
	rg.unwant(0)
	rg.wait(90 * sec)
	rg.full(0, Dry)
	rg.wait(3 * mins)
	rg.empty(0, Dry)
	cleared := rg.now.Mono
	rg.wait(3*sec - tick)
	assert.Equal(t, Standing, rg.b(0).Water)
	rg.wait(tick)
	assert.Equal(t, Gone, rg.b(0).Water)
	assert.Equal(t, cleared, rg.b(0).GoneAt)
}

func TestHoldIsCountedWithoutTheTimeFullWasLost(t *testing.T) {
	rg := newRig(t, site(1))
	rg.filled(0, 1)
	rg.wait(29 * sec)
	rg.full(0, Dry)
	rg.wait(2 * sec)
	assert.Equal(t, 30*sec, rg.b(0).FullFor, "the hold stops at the raw change")
	rg.wait(3 * sec)
	rg.full(0, Wet)
	rg.wait(5 * sec)
	assert.Equal(t, 35*sec, rg.b(0).FullFor)
	rg.full(0, Dry)
	rg.unwant(0)
	assert.Equal(t, 35*sec, rg.b(0).FullFor)
}

func TestRunTripsOnlyWhenStillWantedAtItsLimit(t *testing.T) {
	noFull := func(l *Limits) { l.Benches[0].Full = false }
	timed := func(l *Limits) { l.Benches[0].Full, l.Benches[0].High = false, false }
	noHigh := func(l *Limits) { l.Benches[0].High = false }
	for name, c := range map[string]struct {
		with  func(*Limits)
		hold  time.Duration
		limit time.Duration // from the start
	}{
		"1.5 fill and hold":                  {func(*Limits) {}, 2 * mins, 420 * sec},
		"hold cut to the longest":            {func(*Limits) {}, 3 * time.Hour, 600 * sec},
		"a negative hold is none":            {func(*Limits) {}, -mins, 300 * sec},
		"without FULL":                       {noFull, 2 * mins, 420 * sec},
		"without HIGH, over after FULL":      {noHigh, 5 * mins, 320 * sec},
		"without HIGH, a hold short of over": {noHigh, mins / 2, 320 * sec},
		"without both, fill":                 {timed, 2 * mins, 200 * sec},
	} {
		t.Run(name, func(t *testing.T) {
			begin := func() *rig {
				rg := rigWith(t, c.with)
				rg.to(ready)
				rg.want(0, 1, c.hold)
				require.True(t, rg.pump(0))
				if rg.l.Benches[0].Full {
					rg.wait(200 * sec)
					rg.full(0, Wet)
				}
				rg.to(ready + c.limit - tick)
				assert.True(t, rg.pump(0), "one step before")
				return rg
			}
			rg := begin()
			rg.w.Benches[0].Pump = false
			rg.wait(tick)
			assert.Zero(t, rg.b(0).Trip, "stopping exactly at the limit is no trip")

			rg = begin()
			rg.step(ready + c.limit)
			rg.turn()
			assert.False(t, rg.pump(0), "off in the turn of the limit")
			assert.Equal(t, rg.now.Mono, rg.g.Next(), "the controller is to see it at once")
			rg.tripped(0, MaxRun, true)
			rg.wait(mins)
			assert.False(t, rg.pump(0))
		})
	}
}

func TestLateTurnPastTheLimitTrips(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Full = false })
	rg.flood(0, 1)
	rg.step(ready + 600*sec + sec/2)
	rg.turn()
	rg.tripped(0, MaxRun, true)
}

func TestAnotherFloodEndsTheRunAndDoesNotStart(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	rg.wait(mins)
	rg.want(0, 2, mins)
	assert.False(t, rg.pump(0))
	assert.Equal(t, MinRest, rg.start(0).Interlock)
}

func TestAFloodAndAttemptRunsOnce(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 5)
	rg.unwant(0)
	rg.wait(time.Hour)
	rg.want(0, 5, mins)
	assert.False(t, rg.pump(0), "the same flood and attempt")
	rg.w.Benches[0].Attempt = 1
	rg.wait(0)
	assert.True(t, rg.pump(0))
}

func TestStoppedGuardAllowsNothing(t *testing.T) {
	rg := newRig(t, site(1))
	rg.w.Other[lampOut] = true
	rg.flood(0, 1)
	assert.True(t, rg.cmd.On(lampOut))
	rg.g.Stop(rg.now)
	rg.turn()
	assert.False(t, rg.cmd.Any())
	assert.False(t, rg.b(0).Pump)
	rg.wait(time.Hour)
	rg.want(0, 2, mins)
	assert.False(t, rg.cmd.Any())
}

func TestRunningBenchIsNotOfferedAStart(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	assert.Equal(t, MinRest, rg.start(0).Interlock)
}

func TestTurnThatNobodyPlannedStopsThePumps(t *testing.T) {
	begin := func() *rig {
		rg := newRig(t, site(2))
		rg.flood(0, 1)
		rg.g.Planned(ready + 10*sec)
		return rg
	}
	rg := begin()
	rg.step(ready + 11*sec)
	rg.turn()
	assert.True(t, rg.pump(0), "a second late is not stalled")

	rg = begin()
	rg.step(ready + 11*sec + tick)
	rg.turn()
	assert.False(t, rg.cmd.Any(), "pump and enable are off")
	rg.tripped(0, Stalled, true)
	assert.False(t, rg.latched(1, Stalled), "a bench at rest is not to blame")

	rg = newRig(t, site(1))
	rg.g.Planned(sec)
	rg.step(time.Hour)
	rg.turn()
	assert.False(t, rg.told(Tripped, 0, Stalled), "no pump ran")
}

func TestBoardThatDoesNotObeyEndsEveryRun(t *testing.T) {
	rg := newRig(t, twoTanks())
	rg.w.Stir[0] = true
	for flood := range int64(2) {
		rg.flood(0, flood+1)
		rg.g.Lost(rg.now, "line busy")
		assert.Equal(t, rg.now.Mono, rg.g.Next())
		rg.turn()
		assert.False(t, rg.cmd.Any())
		rg.tripped(0, Stale, flood == 1)
		rg.wait(time.Hour)
	}
	assert.Empty(t, rg.b(1).Latched, "a bench at rest is not to blame")
}

func TestProgramThatWasOvertakenEndsEveryRunAndLatches(t *testing.T) {
	rg := newRig(t, twoTanks())
	rg.g.Overtaken(rg.now)
	assert.Empty(t, rg.g.TakeEvents(), "no pump ran")
	rg.w.Stir[0] = true
	rg.flood(0, 1)
	rg.g.Overtaken(rg.now)
	assert.Equal(t, rg.now.Mono, rg.g.Next(), "the next turn sees it at once")
	rg.turn()
	assert.False(t, rg.cmd.On(rg.l.Benches[0].Pump))
	rg.tripped(0, Stalled, true)
	assert.Empty(t, rg.b(1).Latched, "a bench at rest is not to blame")
	rg.turn()
	assert.Len(t, rg.b(0).Latched, 1, "told once")
}

func TestStallWhileStirringEndsTheStirring(t *testing.T) {
	rg := newRig(t, site(1))
	rg.w.Stir[0] = true
	rg.turn()
	require.True(t, rg.cmd.On(stirOut))
	rg.g.Planned(sec)
	rg.step(3 * sec)
	rg.turn()
	assert.False(t, rg.cmd.Any())
	assert.True(t, rg.told(Tripped, -1, Stalled))
}

func TestTurnWithoutNewsAllocatesNothing(t *testing.T) {
	turn := func(rg *rig) func() {
		return func() {
			rg.step(rg.now.Mono + 10*tick)
			rg.g.Planned(rg.now.Mono)
			rg.g.Observe(rg.now, rg.r)
			rg.g.Allow(rg.now, rg.w)
			rg.g.Next()
			rg.g.TakeEvents()
		}
	}
	resting := newRig(t, site(3))
	resting.w.Benches[1] = RunWant{Pump: true, Flood: 2}
	resting.frozen = true
	assert.Zero(t, testing.AllocsPerRun(100, turn(resting)), "refused as stale")
	running := rigWith(t, func(l *Limits) { l.Benches[0].Full, l.Benches[0].High = false, false })
	running.flood(0, 1)
	assert.Zero(t, testing.AllocsPerRun(100, turn(running)))
	require.True(t, running.pump(0))
}
