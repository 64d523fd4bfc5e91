package safety

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A person acts on the words of a trip: its times have to be right.

func TestATripTellsTheTimesItJudgedBy(t *testing.T) {
	for name, c := range map[string]struct {
		trouble func(rg *rig)
		want    string
	}{
		"FULL too early": {func(rg *rig) {
			rg.flood(0, 1)
			rg.wait(mins)
			rg.full(0, Wet)
			rg.wait(sec)
		}, "FULL was made after 1 min, too early for a fill of 3 min 20 s"},
		"FULL lost": {func(rg *rig) {
			rg.filled(0, 1)
			rg.wait(mins)
			rg.full(0, Dry)
			rg.wait(10 * sec)
		}, "FULL was lost for 10 s during the hold"},
		"wanted too long": {func(rg *rig) {
			rg.filled(0, 1)
			rg.wait(time.Hour)
		}, "the pump was still wanted after 10 min"},
		"not read": {func(rg *rig) {
			rg.flood(0, 1)
			rg.frozen = true
			rg.wait(sec)
		}, `switch "full" was last read 1 s ago`},
	} {
		rg := newRig(t, site(1))
		c.trouble(rg)
		assert.Equal(t, c.want, rg.b(0).Trip.Detail, name)
	}
}

func TestTimesAreToldAsAPersonReadsThem(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Benches[0].Fill = 2*mins + 2018750173 })
	rg.flood(0, 1)
	rg.wait(5 * mins)
	assert.Equal(t, "FULL was not made within 3 min 3 s", rg.b(0).Trip.Detail)
	for d, want := range map[time.Duration]string{
		512345678: "0.5 s", 9949 * time.Millisecond: "9.9 s", 9999 * time.Millisecond: "10 s",
		10*sec + 499*time.Millisecond: "10 s", 10*sec + 500*time.Millisecond: "11 s",
		0: "0 s", mins: "1 min", 90 * sec: "1 min 30 s", 3*mins + 7*sec: "3 min 7 s", 10 * mins: "10 min",
		60 * mins: "1 h", 90 * mins: "1 h 30 min", 60*mins + 5*sec: "1 h 0 min 5 s", 24 * 60 * mins: "24 h",
	} {
		assert.Equal(t, want, Spell(d))
	}
}

func TestOnlyABenchWithoutAnEnableRelayIsToldToPullItsPlug(t *testing.T) {
	for _, enabled := range []bool{true, false} {
		rg := rigWith(t, func(l *Limits) {
			if !enabled {
				noEnable(l)
			}
		})
		drained(rg)
		rg.wait(10 * mins)
		require.True(t, rg.latched(0, DrainWindow))
		detail := "FULL has not cleared 2 min 30 s after the pump stopped"
		if !enabled {
			detail += "; no enable relay can part a welded pump: pull its plug"
		}
		assert.Equal(t, detail, rg.b(0).Latched[0].Detail)
	}
}

func TestHandsInIsOfTheSite(t *testing.T) {
	rg := newRig(t, site(2))
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	require.NotEmpty(t, rg.events)
	last := rg.events[len(rg.events)-1]
	assert.Equal(t, "hands_in", last.Switch)
	assert.Equal(t, -1, last.Bench)
}

// apart is a site of benches that share nothing: each has its reservoir and its
// enable relay, the first of the lot and those after the pumps.
func apart(benches int) Limits {
	l := site(benches)
	l.Reservoirs, l.Stirrers = nil, nil
	l.Outputs[stirOut].Kind = Other
	for i := range l.Benches {
		l.Reservoirs = append(l.Reservoirs, ReservoirLimits{Name: names[i], Usable: 200, Keep: 20})
		l.Benches[i].Reservoir = i
		if i > 0 {
			l.Outputs[l.Benches[i].Pump].Enable = len(l.Outputs)
			l.Outputs = append(l.Outputs, OutputLimits{Name: "enable_" + names[i], Kind: Enable, Enable: -1})
		}
	}
	return l
}

func TestAWeldLatchesOnlyWhatIsBehindItsEnableRelay(t *testing.T) {
	rg := newRig(t, apart(2))
	stopped := drained(rg)
	rg.to(stopped + 150*sec)
	rg.wait(100 * sec)
	rg.full(0, Dry)
	rg.wait(mins)
	require.True(t, rg.told(WeldProven, 0, DrainWindow))
	assert.Empty(t, rg.b(1).Latched)
	assert.False(t, rg.start(1).Refused())
}

// A board that obeys no better when nothing runs is no news: it is tried again
// in the time of whoever drives it.
func TestALostBoardAsksForATurnOnlyWhenARunEnded(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.turn()
	before := rg.g.Next()
	require.Greater(t, before, rg.now.Mono)
	rg.g.Lost(rg.now, "line busy")
	assert.Equal(t, before, rg.g.Next())
}

func TestALostBoardEndsEveryRun(t *testing.T) {
	rg := newRig(t, apart(3))
	rg.to(ready)
	rg.want(1, 1, mins)
	rg.want(2, 2, mins)
	rg.wait(mins)
	require.True(t, rg.pump(1) && rg.pump(2))
	rg.g.Lost(rg.now, errors.New("GPIO5 is silent").Error())
	rg.unwant(1)
	rg.unwant(2)
	for _, i := range []int{1, 2} {
		assert.Equal(t, Stale, rg.b(i).Trip.Interlock)
		assert.Equal(t, "the board did not obey: GPIO5 is silent", rg.b(i).Trip.Detail)
	}
	assert.Zero(t, rg.count(Tripped, 0, Stale))
}
