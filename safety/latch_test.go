package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFirstCauseStaysFirstAndEachInterlockIsKeptOnce(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	rg.high(0, Wet)
	rg.wait(time.Hour)
	latched := rg.b(0).Latched
	require.Len(t, latched, 2)
	assert.Equal(t, HighLevel, latched[0].Interlock)
	assert.Equal(t, ready+sec, latched[0].At)
	assert.Equal(t, Implausible, latched[1].Interlock)
	assert.Equal(t, HighLevel, rg.start(0).Interlock)
	assert.True(t, rg.start(0).Latched)
}

func TestResetIsRefusedWhileItsCauseStands(t *testing.T) {
	everything := func(l *Limits) { l.Benches[0].Empty, l.Benches[0].Leak = true, true }
	for name, c := range map[string]struct {
		make func(*rig)
		says string
	}{
		"HIGH wet":       {func(rg *rig) { rg.r.Benches[0].High.Level = Wet }, "HIGH still shows water"},
		"HIGH unread":    {func(rg *rig) { rg.r.Benches[0].High.Level = Fault }, `"high" cannot be read`},
		"FULL wet":       {func(rg *rig) { rg.r.Benches[0].Full.Level = Wet }, "FULL still shows water"},
		"EMPTY wet":      {func(rg *rig) { rg.r.Benches[0].Empty.Level = Wet }, "EMPTY still shows water"},
		"floor wet":      {func(rg *rig) { rg.r.Benches[0].Leak.Level = Wet }, "floor is still wet"},
		"stale reading":  {func(rg *rig) { rg.frozen = true }, "cannot be read"},
		"only just gone": {func(rg *rig) { rg.leak(0, Wet); rg.wait(sec); rg.leak(0, Dry); rg.wait(sec) }, "floor is still wet"},
		"welded beside":  {func(rg *rig) { rg.g.benches[1].weld = true }, `reset bench "south" first`},
	} {
		t.Run(name, func(t *testing.T) {
			l := site(2)
			everything(&l)
			rg := newRig(t, l)
			rg.g.latch(0, Chatter, "for the test")
			c.make(rg)
			rg.wait(sec)
			err := rg.g.Reset(rg.now, 0, "looked at it")
			require.ErrorContains(t, err, `reset bench "north": `)
			assert.ErrorContains(t, err, c.says)
			assert.True(t, rg.latched(0, Chatter))
		})
	}
}

func TestResetAsksWhatWasFound(t *testing.T) {
	rg := newRig(t, site(1))
	require.ErrorContains(t, rg.g.Reset(rg.now, 0, "leaf"), "nothing is latched")
	require.ErrorContains(t, rg.g.Reset(rg.now, 1, "leaf"), "no bench 1")
	require.ErrorContains(t, rg.g.Reset(rg.now, -1, "leaf"), "no bench -1")
	rg.g.latch(0, FillWindow, "for the test")
	require.ErrorContains(t, rg.g.Reset(rg.now, 0, " "), "say what was found")
}

func TestResetReleasesKeepsBudgetsAndWatchesTheNextFlood(t *testing.T) {
	rg := newRig(t, site(1))
	failFill(rg, 1, func() {})
	rg.g.State()
	used := rg.g.benches[0].runs.used(rg.now.Mono)
	require.NotZero(t, used)
	require.NoError(t, rg.g.Reset(rg.now, 0, "leaf in the standpipe"))
	assert.True(t, rg.g.Dirty())
	assert.Equal(t, rg.now.Mono, rg.g.Next())
	b := rg.b(0)
	assert.Empty(t, b.Latched)
	assert.True(t, b.Watched)
	assert.Equal(t, used, rg.g.benches[0].runs.used(rg.now.Mono))
	assert.Contains(t, rg.events, Event{
		Kind: ResetEvent, At: rg.now.Mono, Interlock: FillWindow, Detail: "leaf in the standpipe",
	})
	rg.g.FloodEnded(0, false)
	assert.True(t, rg.b(0).Watched)
	rg.g.FloodEnded(0, true)
	assert.False(t, rg.b(0).Watched)
}

func TestResetStartsTheChatterCountAnew(t *testing.T) {
	for name, set := range map[string]func(*rig, Level){
		"FULL": func(rg *rig, l Level) { rg.full(0, l) },
		"low":  func(rg *rig, l Level) { rg.low(l) },
	} {
		t.Run(name, func(t *testing.T) {
			l := site(1)
			l.Reservoirs[0].Low = true
			rg := newRig(t, l)
			change := func(n int) {
				for range n {
					set(rg, Wet)
					rg.wait(4 * sec)
					set(rg, Dry)
					rg.wait(4 * sec)
				}
			}
			change(4)
			require.True(t, rg.latched(0, Chatter))
			require.NoError(t, rg.g.Reset(rg.now, 0, "loose float"))
			change(3)
			assert.False(t, rg.latched(0, Chatter))
		})
	}
}

func TestResetOfTheWeldedBenchFreesItsEnable(t *testing.T) {
	rg := newRig(t, twoTanks())
	stopped := drained(rg)
	rg.to(stopped + 250*sec)
	rg.full(0, Dry)
	rg.wait(5 * sec)
	require.True(t, rg.latched(1, DrainWindow))
	require.ErrorContains(t, rg.g.Reset(rg.now, 1, "nothing"), "pull the plug")
	require.NoError(t, rg.g.Reset(rg.now, 0, "new relay"))
	assert.True(t, rg.latched(1, DrainWindow), "each bench is reset by itself")
	require.NoError(t, rg.g.Reset(rg.now, 1, "other relay was welded"))
	rg.wait(time.Hour)
	rg.flood(1, 9)
}

func TestWeldRefusesABenchThatWasNotLatchedByIt(t *testing.T) {
	rg := newRig(t, site(2))
	rg.g.benches[0].weld = true
	assert.Equal(t, DrainWindow, rg.start(1).Interlock)
	assert.True(t, rg.start(1).Latched)
}
