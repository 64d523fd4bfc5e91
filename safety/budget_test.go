package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// ran notes a finished run of bench 0 that began at start.
func ran(rg *rig, start, length time.Duration) {
	rg.g.benches[0].runs.begin(start)
	rg.g.benches[0].runs.end(start + length)
}

func TestPumpRestsForTheDrainAndTwoMinutes(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	rg.unwant(0)
	rest := rg.now.Mono + 12*mins
	rg.w.Benches[0] = RunWant{Pump: true, Flood: 2}
	rg.to(rest - tick)
	assert.Equal(t, MinRest, rg.start(0).Interlock)
	assert.Equal(t, rest, rg.start(0).Until)
	assert.False(t, rg.pump(0))
	assert.LessOrEqual(t, rg.g.Next(), rest, "the rest ends while a run is wanted")
	rg.wait(tick)
	assert.True(t, rg.pump(0))
}

func TestStartsAreCountedByTheHourAndTheDay(t *testing.T) {
	for name, c := range map[string]struct {
		starts int
		gap    time.Duration
		window time.Duration
	}{
		"six an hour":  {6, 5 * mins, time.Hour},
		"forty a day":  {40, 30 * mins, 24 * time.Hour},
		"five an hour": {5, 5 * mins, 0},
		"39 a day":     {39, 30 * mins, 0},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, site(1))
			rg.to(30 * time.Hour)
			first := rg.now.Mono - 21*time.Hour
			if c.starts < 10 {
				first = rg.now.Mono - 40*mins
			}
			for n := range c.starts {
				ran(rg, first+time.Duration(n)*c.gap, sec)
			}
			if c.window == 0 {
				assert.False(t, rg.start(0).Refused())
				return
			}
			assert.Equal(t, Starts, rg.start(0).Interlock)
			assert.Equal(t, first+c.window, rg.start(0).Until)
			rg.to(first + c.window - tick)
			assert.Equal(t, Starts, rg.start(0).Interlock)
			rg.wait(tick)
			assert.False(t, rg.start(0).Refused())
		})
	}
}

func TestDailyRunRefusesUntilTheWindowFrees(t *testing.T) {
	for name, c := range map[string]struct {
		daily time.Duration
		limit time.Duration
	}{
		"four longest runs": {0, 40 * mins},
		"twice the plan":    {time.Hour, time.Hour},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, func(l *Limits) { l.Benches[0].DailyRun = c.daily })
			rg.to(40 * time.Hour)
			plain := 200*sec + 5*mins
			ran(rg, 10*time.Hour, 10*mins) // out of the window
			ran(rg, 20*time.Hour, 10*mins)
			ran(rg, 30*time.Hour, c.limit-11*mins-plain)
			ran(rg, 36*time.Hour, mins)
			assert.False(t, rg.start(0).Refused(), "an ordinary run still fits")
			rg.g.benches[0].runs.back(1).Stop += 15 * mins
			assert.Equal(t, DailyRun, rg.start(0).Interlock)
			until := 54*time.Hour + 5*mins // ten minutes of one run have to go, and five of the next
			assert.Equal(t, until, rg.start(0).Until)
			rg.to(until - tick)
			assert.Equal(t, DailyRun, rg.start(0).Interlock)
			rg.wait(tick)
			assert.False(t, rg.start(0).Refused())
		})
	}
}

func TestDailyRunLatchesARunThatExceedsIt(t *testing.T) {
	begin := func() *rig {
		rg := newRig(t, site(1))
		rg.to(30 * time.Hour)
		ran(rg, 25*time.Hour, 40*mins-200*sec-5*mins)
		rg.filled(0, 1) // an ordinary run is left
		rg.to(30*time.Hour + 500*sec - tick)
		assert.True(t, rg.pump(0))
		return rg
	}
	rg := begin()
	rg.w.Benches[0].Pump = false
	rg.wait(tick)
	assert.Empty(t, rg.b(0).Latched)

	rg = begin()
	rg.wait(tick)
	rg.tripped(0, DailyRun, true)
}

func TestRunsOfADayAreKeptAndNoMore(t *testing.T) {
	var r runs
	for n := range 100 {
		start := time.Duration(n) * time.Hour
		r.begin(start)
		r.end(start + mins)
	}
	assert.Equal(t, StartsPerDay+1, r.len())
	assert.Equal(t, 24*mins, r.used(100*time.Hour))
	assert.Equal(t, 23*mins+30*sec, r.used(100*time.Hour+30*sec), "half of one run has left the window")
}
