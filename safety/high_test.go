package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHighStopsEverythingBehindItsEnable(t *testing.T) {
	for _, level := range []Level{Wet, Fault} {
		rg := newRig(t, twoTanks())
		rg.flood(0, 1)
		rg.flood(1, 2)
		rg.w.Stir[0], rg.w.Other[lampOut] = true, true
		rg.wait(sec)
		rg.r.Benches[0].High.Level = level
		rg.turn()
		assert.False(t, rg.pump(0) || rg.pump(1) || rg.cmd.On(stirOut) || rg.cmd.On(enableOut))
		assert.True(t, rg.cmd.On(lampOut), "light is not behind enable")
		rg.tripped(0, HighLevel, false)
		rg.tripped(1, HighLevel, false)
		assert.Equal(t, HighLevel, rg.start(1).Interlock, "every bench behind the enable is refused")

		rg.wait(sec - tick)
		assert.False(t, rg.latched(0, HighLevel))
		rg.wait(tick)
		assert.True(t, rg.latched(0, HighLevel), "still made after a second")
		assert.False(t, rg.latched(1, HighLevel))
		assert.Equal(t, level == Wet, rg.latched(0, Implausible), "HIGH without FULL; a fault says nothing of the water")
	}
}

func TestHighWithoutEnableStopsItsOwnPumpOnly(t *testing.T) {
	l := twoTanks()
	noEnable(&l)
	rg := newRig(t, l)
	rg.flood(0, 1)
	rg.flood(1, 2)
	rg.w.Stir[0] = true
	rg.high(0, Wet)
	assert.False(t, rg.pump(0))
	assert.True(t, rg.pump(1) && rg.cmd.On(stirOut))
	assert.Equal(t, HighLevel, rg.start(0).Interlock)
	assert.Equal(t, MinRest, rg.start(1).Interlock, "it runs")
}

func TestHighLeavesWhatIsBehindAnotherEnableAlone(t *testing.T) {
	l := twoTanks()
	l.Outputs = append(l.Outputs, OutputLimits{Name: "enable_south", Kind: Enable, Enable: -1})
	l.Outputs[l.Benches[1].Pump].Enable = len(l.Outputs) - 1
	rg := newRig(t, l)
	rg.to(ready)
	rg.want(1, 1, mins)
	require.True(t, rg.pump(1))
	rg.w.Stir[0] = true
	rg.wait(0)
	rg.high(0, Wet)
	assert.True(t, rg.pump(1) && rg.cmd.On(len(l.Outputs)-1))
	assert.False(t, rg.cmd.On(stirOut) || rg.cmd.On(enableOut))
	rg.wait(mins)
	assert.True(t, rg.pump(1))
	assert.False(t, rg.told(Tripped, 1, HighLevel))
}

func TestHighTellsOnlyOfBenchesThatRan(t *testing.T) {
	rg := newRig(t, twoTanks())
	rg.flood(0, 1)
	rg.high(0, Wet)
	rg.wait(mins)
	assert.True(t, rg.told(Tripped, 0, HighLevel))
	assert.False(t, rg.told(Tripped, 1, HighLevel))
}

func TestHighLatchesAtTheThirdTimeWithinADay(t *testing.T) {
	for _, c := range []struct {
		gap     time.Duration
		latches bool
	}{{12*time.Hour - sec, true}, {12 * time.Hour, false}} {
		rg := newRig(t, site(1))
		for n := range 3 {
			assert.Empty(t, rg.b(0).Latched, "time %d", n)
			rg.high(0, Wet)
			rg.wait(sec / 2)
			rg.high(0, Dry)
			rg.wait(c.gap - sec/2)
		}
		assert.Equal(t, c.latches, rg.latched(0, HighLevel))
		assert.Equal(t, 3, rg.count(Tripped, 0, HighLevel))
	}
}

func TestOneSplashCountsOnce(t *testing.T) {
	rg := newRig(t, site(1))
	for range 20 {
		rg.high(0, Wet)
		rg.wait(200 * tick)
		rg.high(0, Dry)
		rg.wait(200 * tick)
	}
	assert.Empty(t, rg.b(0).Latched)
	assert.Equal(t, 1, rg.count(Tripped, 0, HighLevel))
}

func TestHighOverAWetFullIsPlausible(t *testing.T) {
	rg := newRig(t, site(1))
	rg.filled(0, 1)
	rg.high(0, Wet)
	rg.wait(mins)
	rg.tripped(0, HighLevel, true)
	assert.False(t, rg.latched(0, Implausible))
}

func TestLeakStopsAtOnceAndLatchesWhenItPersists(t *testing.T) {
	l := twoTanks()
	l.Benches[0].Leak = true
	rg := newRig(t, l)
	rg.flood(0, 1)
	rg.flood(1, 2)
	rg.r.Benches[0].Leak.Level = Wet
	rg.turn()
	assert.False(t, rg.cmd.Any())
	rg.tripped(0, LeakFound, false)
	rg.tripped(1, LeakFound, false)
	assert.Equal(t, LeakFound, rg.start(0).Interlock)
	rg.wait(sec - tick)
	assert.Empty(t, rg.b(0).Latched)
	rg.wait(tick)
	assert.True(t, rg.latched(0, LeakFound))
	rg.wait(time.Hour)
	assert.False(t, rg.start(1).Refused(), "the wet floor of another bench does not dry this one")
}

func TestNoRunStartsInTheTurnItsEnableIsOpened(t *testing.T) {
	l := twoTanks()
	l.Benches[0].Leak = true
	rg := newRig(t, l)
	rg.to(ready)
	rg.r.Benches[0].Leak.Level = Wet
	rg.w.Benches[1] = RunWant{Pump: true, Flood: 1}
	rg.turn()
	assert.False(t, rg.cmd.Any())
	assert.Equal(t, rg.now.Mono, rg.g.Next())
	rg.turn()
	assert.True(t, rg.pump(1) && rg.cmd.On(enableOut))
}

func TestIdleLeakIsToldAndLatches(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Leak = true })
	rg.leak(0, Fault)
	rg.wait(sec)
	assert.Equal(t, 1, rg.count(Tripped, 0, LeakFound))
	assert.Equal(t, 1, rg.count(LatchedEvent, 0, LeakFound))
	require.True(t, rg.latched(0, LeakFound))
	assert.Zero(t, rg.b(0).Trip, "no run was ended")
}

func TestAFloorThatIsWetNowAndThenLatchesAtTheThirdTime(t *testing.T) {
	for _, c := range []struct {
		wet, every time.Duration
		latches    bool
	}{
		{500 * tick, 5 * sec, true}, {tick, BreakDelay + tick, true}, {900 * tick, mins, true}, {500 * tick, 12*time.Hour - sec, true}, {500 * tick, 12 * time.Hour, false},
	} {
		rg := rigWith(t, func(l *Limits) { l.Benches[0].Leak = true })
		for n := range 3 {
			assert.Empty(t, rg.b(0).Latched, "time %d of %+v", n, c)
			rg.leak(0, Wet)
			rg.wait(c.wet)
			rg.leak(0, Dry)
			rg.wait(c.every - c.wet)
			if n == 1 {
				rg.restart(0, "boot-1")
			}
		}
		assert.Equal(t, c.latches, rg.latched(0, LeakFound), "%+v", c)
		for range 1000 {
			if !c.latches {
				break
			}
			rg.leak(0, Wet)
			rg.wait(c.wet)
			rg.leak(0, Dry)
			rg.wait(max(c.every-c.wet, BreakDelay))
		}
		assert.LessOrEqual(t, rg.count(Tripped, 0, LeakFound), 4, "%+v: a floor sensor that holds its bench has nothing new to tell", c)
	}
}

// A switch that water laps at for ever is never wet for long, nor dry.
func TestASwitchThatFluttersFasterThanItsFilterLatches(t *testing.T) {
	for _, sensor := range []func(*rig) *Reading{
		func(rg *rig) *Reading { return &rg.r.Benches[0].High }, func(rg *rig) *Reading { return &rg.r.Benches[0].Leak },
	} {
		rg := rigWith(t, func(l *Limits) { l.Benches[0].Leak = true })
		begun := rg.now.Mono
		for len(rg.b(0).Latched) == 0 {
			require.Less(t, rg.now.Mono-begun, mins)
			sensor(rg).Level = Wet
			rg.wait(sec / 2)
			sensor(rg).Level = Dry
			rg.wait(sec / 2)
		}
		assert.InDelta(t, splash.Seconds(), (rg.now.Mono - begun).Seconds(), 1)
	}
}

func TestWhatIsCountedOfADayIsToBeKeptAtOnce(t *testing.T) {
	for name, c := range map[string]struct {
		wet  func(*rig, Level)
		kept func(BenchState) int
	}{
		"HIGH":        {func(rg *rig, l Level) { rg.high(0, l) }, func(s BenchState) int { return len(s.Highs) }},
		"a wet floor": {func(rg *rig, l Level) { rg.leak(0, l) }, func(s BenchState) int { return len(s.Leaks) }},
	} {
		rg := rigWith(t, func(l *Limits) { l.Benches[0].Leak = true })
		rg.to(ready)
		for n := range 2 {
			rg.wait(mins)
			_ = rg.g.State()
			c.wet(rg, Wet)
			assert.True(t, rg.g.Dirty(), "%s, time %d: a restart would forget it", name, n+1)
			assert.Equal(t, n+1, c.kept(rg.g.State().Benches["north"]), name)
			c.wet(rg, Dry)
		}
	}
}
