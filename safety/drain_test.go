package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// drained floods bench 0 in full, stops it and leaves it draining.
func drained(rg *rig) (stopped time.Duration) {
	rg.filled(0, 1)
	rg.wait(mins)
	rg.unwant(0)
	require.False(rg.t, rg.pump(0))
	return rg.now.Mono
}

func TestFullHasToClearAfterARun(t *testing.T) {
	for name, c := range map[string]struct {
		fall  time.Duration
		after time.Duration
		late  bool
	}{
		"one step before":           {100 * sec, 150*sec - tick, false},
		"at the limit":              {100 * sec, 150 * sec, false},
		"one step after":            {100 * sec, 150*sec + tick, true},
		"at least two minutes":      {10 * sec, 120 * sec, false},
		"two minutes and one step":  {10 * sec, 120*sec + tick, true},
		"long after, still drained": {10 * sec, 20 * mins, true},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, func(l *Limits) { l.Benches[0].Fall = c.fall })
			stopped := drained(rg)
			rg.arrive(stopped + c.after)
			rg.full(0, Dry)
			rg.wait(5 * sec)
			assert.Equal(t, c.late, rg.latched(0, DrainWindow))
			assert.Equal(t, c.late, rg.told(Tripped, 0, DrainWindow))
			assert.False(t, rg.cmd.On(enableOut))
			rg.wait(10 * mins)
			assert.Equal(t, c.late, rg.b(0).LateGone)
			assert.Equal(t, Gone, rg.b(0).Water)
			assert.Equal(t, max(stopped+10*mins, rg.b(0).Full.Since), rg.b(0).GoneAt)
			assert.Zero(t, rg.b(0).Trip, "it did not end the run")
		})
	}
}

func TestEmptyHasToClearAfterARun(t *testing.T) {
	for name, c := range map[string]struct {
		after time.Duration
		late  bool
	}{
		"one step before": {15*mins - tick, false},
		"at the limit":    {15 * mins, false},
		"one step after":  {15*mins + tick, true},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty = true })
			rg.r.Benches[0].Empty.Level = Dry
			rg.flood(0, 1)
			rg.empty(0, Wet)
			rg.wait(200 * sec)
			rg.full(0, Wet)
			rg.wait(mins)
			rg.unwant(0)
			stopped := rg.now.Mono
			rg.wait(mins)
			rg.full(0, Dry)
			rg.arrive(stopped + c.after)
			rg.empty(0, Dry)
			rg.wait(5 * sec)
			assert.Equal(t, c.late, rg.latched(0, DrainWindow))
			assert.Equal(t, c.late, rg.b(0).LateGone)
		})
	}
}

func TestWithoutFullEnableOpensASecondAfterThePump(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Full = false })
	rg.flood(0, 1)
	rg.wait(mins)
	rg.unwant(0)
	assert.True(t, rg.cmd.On(enableOut))
	rg.wait(sec - tick)
	assert.True(t, rg.cmd.On(enableOut))
	rg.wait(tick)
	assert.False(t, rg.cmd.Any())
}

func TestEnableIsNotClosedAgainByAFullThatComesBack(t *testing.T) {
	rg := newRig(t, site(1))
	drained(rg)
	rg.wait(mins)
	rg.full(0, Dry)
	rg.wait(3 * sec)
	require.False(t, rg.cmd.On(enableOut))
	rg.full(0, Wet)
	rg.wait(2 * sec)
	assert.False(t, rg.cmd.On(enableOut))
}

func TestEnableIsNotHeldByAFullThatComesBackWhileAnotherBenchRuns(t *testing.T) {
	for first := range 2 {
		other := 1 - first
		rg := newRig(t, twoTanks())
		rg.filled(first, 1)
		rg.flood(other, 2)
		rg.unwant(first)
		rg.wait(mins)
		rg.full(first, Dry)
		rg.wait(3 * sec)
		rg.full(first, Wet)
		rg.wait(2 * sec)
		require.True(t, rg.cmd.On(enableOut))
		rg.unwant(other)
		rg.wait(EnableLag + 3*sec)
		assert.False(t, rg.cmd.On(enableOut), "bench %d", first)
	}
}

func TestOverdueFullOpensEnableWithEverythingBehindIt(t *testing.T) {
	rg := newRig(t, twoTanks())
	stopped := drained(rg)
	rg.flood(1, 2)
	rg.w.Stir[0] = true
	rg.wait(sec)
	require.True(t, rg.cmd.On(stirOut))
	rg.to(stopped + 150*sec)
	assert.False(t, rg.cmd.Any())
	rg.tripped(1, DrainWindow, false)
	assert.True(t, rg.latched(0, DrainWindow))
}

// twoTanks is a site of two benches, each on a reservoir of its own, behind one enable relay.
func twoTanks() Limits {
	l := site(2)
	l.Reservoirs = append(l.Reservoirs, l.Reservoirs[0])
	l.Reservoirs[1].Name = "barrel"
	l.Benches[1].Reservoir = 1
	return l
}

func TestWeldIsProvenByFullClearingOnceEnableOpened(t *testing.T) {
	for name, c := range map[string]struct {
		after time.Duration // FULL clears this long after enable opened
		weld  bool
	}{
		"before half the fall": {50*sec - tick, false},
		"at half the fall":     {50 * sec, true},
		"at 1.5 falls":         {150 * sec, true},
		"after 1.5 falls":      {150*sec + tick, false},
		"much later":           {time.Hour, false},
	} {
		t.Run(name, func(t *testing.T) {
			l := twoTanks()
			l.Stirrers[0].BeforeFlood = 3 * time.Hour
			rg := newRig(t, l)
			opened := drained(rg) + 150*sec
			rg.to(opened)
			rg.w.Stir[0] = true
			refusal := rg.start(1)
			assert.Equal(t, DrainWindow, refusal.Interlock, "nothing closes enable until it is known")
			assert.False(t, refusal.Latched)
			assert.Equal(t, opened+150*sec, refusal.Until)
			rg.to(opened + c.after - tick)
			assert.Equal(t, c.after > 150*sec, rg.cmd.On(stirOut))
			rg.arrive(opened + c.after)
			rg.full(0, Dry)
			rg.wait(10 * sec)
			assert.Equal(t, c.weld, rg.told(WeldProven, 0, DrainWindow))
			assert.Equal(t, c.weld, rg.latched(1, DrainWindow))
			assert.Equal(t, !c.weld, rg.cmd.On(stirOut))
			assert.Equal(t, c.weld, rg.start(1).Refused())
		})
	}
}

// A weld is the matter of its enable relay: whatever is behind that stays off,
// also over restarts and for a bench that nothing else latched, and what is behind
// another goes on.
func TestAWeldHoldsItsEnableRelayOpenOverRestartsAndNoOther(t *testing.T) {
	l := site(3)
	for i := 1; i < 3; i++ { // a reservoir each
		l.Reservoirs = append(l.Reservoirs, ReservoirLimits{Name: names[i], Usable: 200, Keep: 20})
		l.Benches[i].Reservoir = i
	}
	own := len(l.Outputs) // the last has its own enable relay
	l.Outputs = append(l.Outputs, OutputLimits{Name: "own", Kind: Enable, Enable: -1})
	l.Outputs[l.Benches[2].Pump].Enable = own
	l.Stirrers[0].BeforeFlood = 100 * time.Hour
	rg := newRig(t, l)
	rg.to(drained(rg) + 250*sec)
	rg.full(0, Dry)
	rg.wait(10 * sec)
	require.True(t, rg.told(WeldProven, 0, DrainWindow))
	for n, boot := range []string{"boot-1", "boot-1", "boot-2"} {
		if n > 0 {
			rg.restart(20*mins, boot)
		}
		rg.w.Stir[0] = true
		rg.wait(20 * mins)
		assert.True(t, rg.latched(1, DrainWindow))
		assert.False(t, rg.latched(2, DrainWindow))
		require.ErrorContains(t, rg.g.Reset(rg.now, 1, "nothing"), "then reset bench \"north\" first")
		for i := range 2 {
			rg.want(i, int64(10*n+i), mins)
			assert.False(t, rg.pump(i), "%s of the welded relay", names[i])
			assert.True(t, rg.start(i).Latched)
		}
		assert.False(t, rg.cmd.On(enableOut) || rg.cmd.On(stirOut))
		rg.want(2, int64(10*n+2), mins)
		assert.True(t, rg.pump(2) && rg.cmd.On(own), "and what has another floods")
		rg.unwant(2)
	}
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	require.ErrorContains(t, rg.click(enableOut, true), "may be welded")
	require.NoError(t, rg.click(own, true))
}

func TestWeldIsNotJudgedWhenEnableHadOpenedBefore(t *testing.T) {
	rg := newRig(t, twoTanks())
	opened := drained(rg) + 150*sec
	rg.wait(10 * sec)
	rg.high(0, Wet)
	rg.high(0, Dry)
	rg.to(opened)
	require.True(t, rg.latched(0, DrainWindow))
	assert.False(t, rg.start(1).Refused())
	rg.wait(100 * sec)
	rg.full(0, Dry)
	rg.wait(10 * sec)
	assert.False(t, rg.told(WeldProven, 0, DrainWindow))
}

func TestWithoutEnableNoWeldIsProven(t *testing.T) {
	rg := rigWith(t, noEnable)
	opened := drained(rg) + 150*sec // were there one to open
	rg.to(opened + 100*sec)
	require.True(t, rg.latched(0, DrainWindow))
	rg.full(0, Dry)
	rg.wait(time.Hour)
	assert.False(t, rg.told(WeldProven, 0, DrainWindow))
}

// noEnable takes the enable relay out of a site.
func noEnable(l *Limits) {
	for i := range l.Outputs {
		l.Outputs[i].Enable = -1
	}
	l.Outputs[enableOut].Kind = Other
}

func TestOverdueWaterAfterAProgramStartIsNotEmpty(t *testing.T) {
	l := site(1)
	l.Benches[0].Empty = true
	for name, c := range map[string]struct {
		wet   func(*rig)
		after time.Duration
	}{
		"FULL":  {func(rg *rig) { rg.r.Benches[0].Full.Level = Wet }, 150 * sec},
		"EMPTY": {func(rg *rig) { rg.r.Benches[0].Empty.Level = Wet }, 15 * mins},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, l)
			c.wet(rg)
			rg.restart(0, "boot-1")
			rg.wait(c.after - tick)
			assert.Equal(t, NotEmpty, rg.start(0).Interlock)
			assert.False(t, rg.start(0).Latched)
			rg.wait(tick)
			assert.True(t, rg.latched(0, NotEmpty))
		})
	}
}
