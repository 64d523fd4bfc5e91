package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFullMadeByItselfIsImplausible(t *testing.T) {
	for name, c := range map[string]struct {
		after  time.Duration // the stop of the last run
		latch  bool
		stirs  bool
		enable int
	}{
		"within the rest":               {12 * mins, false, false, 0},
		"longer than the rest":          {12*mins + tick, true, false, 0},
		"at once while stirring":        {4 * mins, true, true, 0},
		"stirring behind another relay": {4 * mins, false, true, -1},
	} {
		t.Run(name, func(t *testing.T) {
			l := site(1)
			l.Outputs[stirOut].Enable = c.enable
			rg := newRig(t, l)
			stopped := drained(rg)
			rg.wait(mins)
			rg.full(0, Dry)
			rg.wait(mins)
			rg.w.Stir[0] = c.stirs
			rg.arrive(stopped + c.after)
			rg.full(0, Wet)
			assert.Equal(t, c.stirs, rg.cmd.On(stirOut))
			rg.wait(sec)
			assert.Equal(t, c.latch, rg.latched(0, Implausible))
			if c.latch {
				assert.False(t, rg.cmd.Any(), "enable opens at once")
			}
		})
	}
}

func TestFullThatFollowsTheStopIsNoRise(t *testing.T) {
	rg := newRig(t, twoTanks())
	rg.flood(0, 1)
	rg.w.Stir[0] = true
	rg.wait(200 * sec)
	rg.full(0, Wet)
	rg.wait(sec / 2)
	rg.unwant(0)
	rg.wait(sec)
	assert.Equal(t, Wet, rg.b(0).Full.Level)
	assert.Empty(t, rg.b(0).Latched)
}

func TestFullRisingWhileAnotherBenchFloodsOpensEnable(t *testing.T) {
	rg := newRig(t, twoTanks())
	rg.to(time.Hour)
	rg.flood(1, 1)
	rg.w.Stir[0] = true
	rg.wait(mins)
	rg.full(0, Wet)
	rg.wait(sec)
	assert.False(t, rg.cmd.Any())
	assert.True(t, rg.latched(0, Implausible))
	assert.Contains(t, rg.b(0).Latched[0].Detail, "with the pump off")
	rg.tripped(1, Implausible, false)
}

func TestEmptyHasToBeMadeByAFloodThatMadeFull(t *testing.T) {
	for _, full := range []bool{false, true} {
		rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty = true })
		rg.flood(0, 1)
		rg.wait(200 * sec)
		if full {
			rg.full(0, Wet)
			rg.wait(mins)
		}
		rg.unwant(0)
		stopped := rg.now.Mono
		rg.wait(mins)
		rg.full(0, Dry)
		rg.to(stopped + 10*mins - tick)
		assert.Empty(t, rg.b(0).Latched)
		rg.wait(tick)
		assert.Equal(t, Gone, rg.b(0).Water)
		assert.Equal(t, full, rg.latched(0, Implausible))
	}
}

func TestChatterLatches(t *testing.T) {
	chatter := func(t *testing.T, change func(*rig, Level), l Limits) *rig {
		rg := newRig(t, l)
		levels := []Level{Wet, Dry}
		if l.Reservoirs[0].Low {
			levels = []Level{Dry, Wet}
		}
		for n := range 7 {
			assert.Empty(t, rg.b(0).Latched, "change %d", n)
			change(rg, levels[n%2])
			rg.wait(4 * sec)
		}
		for n := range 3 {
			change(rg, levels[(n+1)%2])
			rg.wait(4 * sec)
		}
		assert.Equal(t, 1, rg.count(Tripped, 0, Chatter), "told once")
		return rg
	}
	l := site(1)
	l.Benches[0].Empty = true
	rg := chatter(t, func(rg *rig, l Level) { rg.empty(0, l) }, l)
	assert.True(t, rg.latched(0, Chatter))
	assert.Contains(t, rg.b(0).Latched[0].Detail, `"empty"`)

	l = site(1)
	l.Reservoirs[0].Low = true
	rg = chatter(t, func(rg *rig, l Level) { rg.low(l) }, l)
	assert.True(t, rg.latched(0, Chatter))
}

func TestFullThatComesBackWithinTheRestIsNoOverdueDrain(t *testing.T) {
	rg := newRig(t, site(1))
	stopped := drained(rg)
	rg.wait(mins)
	rg.full(0, Dry)
	rg.to(stopped + 4*mins)
	rg.full(0, Wet)
	rg.wait(150*sec - tick)
	assert.Empty(t, rg.b(0).Latched)
	rg.wait(tick)
	assert.True(t, rg.latched(0, NotEmpty), "but it may not stay")
	assert.False(t, rg.latched(0, DrainWindow))
}

func TestIdleWaterThatClearsInTimeDoesNotLatch(t *testing.T) {
	rg := newRig(t, site(1))
	stopped := drained(rg)
	rg.wait(mins)
	rg.full(0, Dry)
	rg.to(stopped + 4*mins)
	rg.full(0, Wet)
	rg.arrive(stopped + 4*mins + 150*sec)
	rg.full(0, Dry)
	rg.wait(time.Hour)
	assert.Empty(t, rg.b(0).Latched)
}

func TestWaterThatStandsOnAnIdleTableLatches(t *testing.T) {
	for name, c := range map[string]struct {
		set   func(*rig, Level)
		after time.Duration
	}{
		"FULL":  {func(rg *rig, l Level) { rg.full(0, l) }, 150 * sec},
		"EMPTY": {func(rg *rig, l Level) { rg.empty(0, l) }, 15 * mins},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty = true })
			rg.flood(0, 1)
			rg.unwant(0)
			rg.wait(11 * mins) // gone, still at rest
			c.set(rg, Wet)
			rg.wait(c.after - tick)
			assert.Empty(t, rg.b(0).Latched)
			assert.Equal(t, NotEmpty, rg.start(0).Interlock)
			rg.wait(tick)
			assert.True(t, rg.latched(0, NotEmpty))
			rg.wait(time.Hour)
			assert.Len(t, rg.b(0).Latched, 1)
			assert.Equal(t, 1, rg.count(Tripped, 0, NotEmpty))
		})
	}
}

func TestALatchedBenchDoesNotTellTheSameAgainAndAgain(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	for range 100 {
		rg.full(0, Wet)
		rg.wait(BreakDelay)
		rg.full(0, Dry)
		rg.wait(2 * BreakDelay)
	}
	assert.Equal(t, 1, rg.count(Tripped, 0, Implausible))
	for range 100 {
		rg.high(0, Wet)
		rg.wait(2 * sec)
		rg.high(0, Dry)
		rg.wait(2 * BreakDelay)
	}
	assert.Equal(t, 1, rg.count(Tripped, 0, HighLevel))
	assert.Len(t, rg.g.State().Benches["north"].Highs, 1, "what holds already needs no more counting")
}

// What runs behind another enable relay fills no table behind this one.
func TestFullMadeWhileStirringIsNoWorkOfAPumpBehindAnotherEnable(t *testing.T) {
	l := twoTanks()
	l.Outputs = append(l.Outputs, OutputLimits{Name: "enable_south", Kind: Enable, Enable: -1})
	l.Outputs[l.Benches[1].Pump].Enable = len(l.Outputs) - 1
	rg := newRig(t, l)
	drained(rg)
	rg.wait(mins)
	rg.full(0, Dry)
	rg.flood(1, 1)
	rg.w.Stir[0] = true
	rg.wait(mins)
	require.True(t, rg.pump(1) && rg.cmd.On(stirOut))
	rg.full(0, Wet)
	rg.wait(sec)
	assert.True(t, rg.latched(0, Implausible))
	assert.False(t, rg.cmd.On(enableOut))
	assert.True(t, rg.pump(1))
}
