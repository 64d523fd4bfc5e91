package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// stormy is a bench that may flood a minute after a program start.
func stormy() Limits {
	l := site(2)
	l.Benches[0].Drain = mins
	l.Benches[1].Drain = mins
	return l
}

// floodAndFall starts a flood, then the program falls over and starts again
// at the given time.
func floodAndFall(rg *rig, flood int64, next time.Duration) {
	rg.t.Helper()
	rg.wait(3 * mins)
	rg.want(0, flood, 0)
	require.True(rg.t, rg.pump(0), "%+v", rg.start(0))
	rg.restart(next-rg.now.Mono, "boot-1")
}

func TestThreeProgramStartsWithARunRestThePumps(t *testing.T) {
	for name, c := range map[string]struct {
		third time.Duration
		storm bool
	}{
		"30 minutes apart": {30 * mins, true},
		"a step more":      {30*mins + tick, false},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, stormy())
			floodAndFall(rg, 1, 10*mins)
			rg.wait(mins)
			rg.restart(mins, "boot-1") // a start without a run does not count
			floodAndFall(rg, 2, c.third)
			floodAndFall(rg, 3, c.third+5*mins)
			rg.wait(10 * mins)
			if !c.storm {
				assert.False(t, rg.start(0).Refused())
				return
			}
			assert.True(t, rg.told(Tripped, -1, RestartStorm))
			assert.Equal(t, Refusal{
				Interlock: RestartStorm, Until: 60 * mins,
				Detail: "the program started too often with a pump run in each",
			}, rg.start(1))
			rg.to(60*mins - tick)
			assert.Equal(t, RestartStorm, rg.start(0).Interlock)
			rg.wait(tick)
			assert.False(t, rg.start(0).Refused())
		})
	}
}

func TestSecondRestartStormWithinADayLatchesEveryBench(t *testing.T) {
	for name, c := range map[string]struct {
		again time.Duration // the third start of the second storm
		latch bool
	}{
		"within the day": {20*mins + 24*time.Hour - tick, true},
		"a day later":    {20*mins + 24*time.Hour, false},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, stormy())
			floodAndFall(rg, 1, 10*mins)
			floodAndFall(rg, 2, 20*mins)
			floodAndFall(rg, 3, c.again-20*mins)
			floodAndFall(rg, 4, c.again-10*mins)
			floodAndFall(rg, 5, c.again)
			rg.wait(3 * mins)
			rg.want(0, 6, 0)
			assert.Equal(t, !c.latch, rg.pump(0))
			assert.Equal(t, c.latch, rg.latched(0, RestartStorm))
			assert.Equal(t, c.latch, rg.latched(1, RestartStorm))
		})
	}
}

func TestThePumpsRestFromTheLatestStorm(t *testing.T) {
	l := stormy()
	l.Benches[0].DailyRun = 2 * time.Hour
	rg := newRig(t, l)
	for flood, start := range []time.Duration{10 * mins, 20 * mins, 60 * mins, 70 * mins, 80 * mins} {
		floodAndFall(rg, int64(flood)+1, start)
	}
	rg.wait(3 * mins)
	rg.want(0, 6, 0)
	rg.unwant(0)
	for i := range rg.l.Benches {
		require.True(t, rg.latched(i, RestartStorm))
		require.NoError(t, rg.g.Reset(rg.now, i, "a loose plug of the board"))
	}
	assert.Equal(t, RestartStorm, rg.start(1).Interlock, "a reset gives no pump its rest")
	assert.Equal(t, 110*mins, rg.start(1).Until)
	rg.to(110 * mins)
	assert.False(t, rg.start(1).Refused(), "%+v", rg.start(1))
}

// A storm has had its rest: its starts make no other one with the next of them.
func TestTheStartsOfAStormCountOnce(t *testing.T) {
	rg := newRig(t, stormy())
	floodAndFall(rg, 1, 3*mins)
	floodAndFall(rg, 2, 6*mins)
	floodAndFall(rg, 3, 30*mins)
	require.True(t, rg.told(Tripped, -1, RestartStorm))
	rg.to(36 * mins)
	rg.want(0, 4, 0)
	assert.True(t, rg.pump(0), "%+v", rg.start(0))
	assert.False(t, rg.latched(0, RestartStorm))
}
