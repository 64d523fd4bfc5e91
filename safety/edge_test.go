package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWaterOnAllLatchedBenchesIsGoneFromTheReservoir(t *testing.T) {
	l := site(3)
	l.Reservoirs[0].Usable = 300 // for a flood of 100 L and 20 L kept, with one flood given up and not with two
	rg := newRig(t, l)
	for i := range 2 {
		require.False(t, rg.start(2).Latched)
		rg.filled(i, int64(i+1))
		rg.wait(mins)
		rg.high(i, Wet)
		rg.wait(2 * sec)
		require.True(t, rg.latched(i, HighLevel))
		rg.unwant(i)
		rg.high(i, Dry)
		rg.wait(5 * sec)
		assert.Equal(t, i == 1, rg.start(2).Interlock == ReservoirLow, "%d given up: %+v", i+1, rg.start(2))
	}
}

func TestAFullReservoirIsTakenAtItsWordWhateverAFloodTakes(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Usable = 110 })
	rg.to(ready)
	assert.False(t, rg.start(0).Refused(), "the check of the file refuses it, not the guard")
}

func TestAStirringThatIsInterruptedGoesOnWithWhatIsLeft(t *testing.T) {
	rg := stirring(t, site(1))
	began := rg.now.Mono
	for range 3 { // 3 × 4 min of the 15
		rg.wait(4 * mins)
		rg.r.Reservoirs[0].Temperature = ColdLimit
		rg.wait(0)
		rg.wait(mins)
		require.False(t, rg.cmd.On(stirOut))
		rg.r.Reservoirs[0].Temperature = 18
		rg.wait(0)
		require.True(t, rg.cmd.On(stirOut))
	}
	rg.to(began + 18*mins - tick)
	assert.True(t, rg.cmd.On(stirOut))
	rg.wait(tick)
	assert.False(t, rg.cmd.On(stirOut))
}

func TestAnOutageOfUnknownLengthAgesBudgetsByPoweredTime(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	rg.wait(mins)
	rg.unwant(0)
	rg.wait(30 * mins)
	saved := rg.now.Mono
	rg.now.Trusted = false
	rg.restart(time.Hour, "boot-2")
	got := rg.g.State().Benches["north"].Runs
	require.Len(t, got, 1)
	assert.Equal(t, Span{ready - saved, ready + mins - saved}, got[0])
}

func TestAnOutageThatTookNoTimeIsKnown(t *testing.T) {
	s := State{Boot: "boot-1", Mono: time.Hour, Wall: noon, Trusted: true}
	sh := s.shift(Now{Mono: mins, Wall: noon, Trusted: true}, "boot-2")
	assert.False(t, sh.unknown)
	assert.Equal(t, mins-time.Hour, sh.by)
}

func TestHighOverAFullThatIsJustMadeIsPlausible(t *testing.T) {
	rg := newRig(t, site(1))
	rg.high(0, Wet)
	rg.wait(900 * time.Millisecond)
	rg.full(0, Wet) // raw, and filtered a second later
	rg.wait(500 * time.Millisecond)
	assert.False(t, rg.latched(0, Implausible))
	rg.wait(10 * sec)
	assert.False(t, rg.latched(0, Implausible))
	assert.True(t, rg.latched(0, HighLevel))
}

func TestChatterIsCountedOverFillAndFall(t *testing.T) {
	for _, c := range []struct {
		every time.Duration
		want  bool
	}{{49 * sec, true}, {51 * sec, false}} { // 7 changes in 6 × that, of 200 s and 100 s
		rg := newRig(t, site(1))
		level := Wet
		for range 7 {
			rg.high(0, level)
			rg.wait(c.every)
			level = Wet + Dry - level
		}
		assert.Equal(t, c.want, rg.latched(0, Chatter), c.every)
	}
}

func TestFullThatIsLostTwiceHasStoodForTheSum(t *testing.T) {
	rg := newRig(t, site(1))
	rg.filled(0, 1) // and one second
	for range 2 {
		rg.wait(59 * sec)
		rg.full(0, Dry)
		rg.wait(5 * sec)
		rg.full(0, Wet)
		rg.wait(sec)
	}
	assert.Equal(t, 121*sec, rg.b(0).FullFor, "a minute, a minute, and the second since")
}

func TestFullThatBobsAfterTheStopIsJudgedAtItsTime(t *testing.T) {
	rg := newRig(t, site(1))
	stopped := drained(rg)
	rg.wait(30 * sec)
	rg.full(0, Dry)
	rg.wait(10 * sec)
	rg.full(0, Wet)
	rg.wait(10 * sec)
	assert.Equal(t, stopped+150*sec, rg.g.Next())
	rg.to(stopped + 150*sec)
	assert.True(t, rg.latched(0, DrainWindow))
}

func TestEmptyThatIsMadeWithoutARunIsJudgedAtItsTime(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Empty = true })
	rg.to(time.Hour)
	rg.empty(0, Wet)
	rg.wait(sec)
	assert.Equal(t, time.Hour+15*mins, rg.g.Next())
	rg.wait(15 * mins)
	assert.True(t, rg.latched(0, NotEmpty))
}

func TestARollingDayFreesNoMoreThanItHasTo(t *testing.T) {
	var r runs
	for _, start := range []time.Duration{time.Hour, 2 * time.Hour, 3 * time.Hour} {
		r.begin(start)
		r.end(start + 10*mins)
	}
	now := 4 * time.Hour
	assert.Equal(t, time.Hour+10*mins+day, r.frees(now, 10*mins), "the first run is enough, and just so")
	assert.Equal(t, 2*time.Hour+1+day, r.frees(now, 10*mins+1))
	assert.Equal(t, 3*time.Hour+10*mins+day, r.frees(now, 30*mins), "all there was")
}
