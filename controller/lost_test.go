package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func TestWaterGoesByTheHoursOrByTheFloods(t *testing.T) {
	pair := func(over safety.Litres, hours float64) stretch { return stretch{Over: over, Hours: hours} }
	for name, tt := range map[string]struct {
		before, now stretch
		byTime      bool
	}{
		"as the hours":                     {pair(5, 4), pair(10, 8), true},
		"rather as the hours":              {pair(6, 4), pair(10, 8), true},
		"as the floods":                    {pair(5, 4), pair(5, 8), false},
		"as much as one as as the other":   {pair(6, 2), pair(8, 4), false},
		"hours that are much alike":        {pair(5, 4), pair(7, 6), false},
		"after hours that were longer":     {pair(10, 8), pair(5, 4), true},
		"with no stretch to compare it to": {stretch{}, pair(10, 8), false},
	} {
		assert.Equal(t, tt.byTime, byTime(tt.before, tt.now), name)
	}
}

func TestLossesOfTwoBenchesAreNoRow(t *testing.T) {
	c := shared(t)
	for _, b := range []int{0, 1, 0} {
		c.lost(b, 20, c.now.Wall, c.now.Wall)
		assert.Contains(t, said(c)[0], "today: "+c.name(b), "each is told, and none latches")
	}
	c.lost(0, 20, c.now.Wall, c.now.Wall)
	assert.Contains(t, said(c)[0], "latch: ", "two in a row do")
}

func TestALossAfterAFloodThatLostNothingIsAnotherOne(t *testing.T) {
	c := lossAt(t)
	hold(c, 15, 148)
	hold(c, 18, 118)
	require.Len(t, said(c), 1)
	assert.Equal(t, hour(15), c.tanks[0].Missing.From)
	assert.Less(t, c.tanks[0].Missing.Litres, safety.Litres(30))
}

func TestWhatAllPairsLostLeavesOutWhatNeverEnds(t *testing.T) {
	c := scales(t, nil)
	c.shows(0, 0, 2)
	assert.InDelta(t, 2-0.35, float64(c.tanks[0].Slow), 1e-9)
}

func TestAFloodThatFitsJustIsOneThatMayRun(t *testing.T) {
	c := scales(t, func(s *Setup) { s.Limits.FloorDrained = true })
	l := c.limits(0)
	c.tanks[0].Litres = l.Flood + c.setup.Limits.Reservoirs[0].Keep
	assert.True(t, c.canLose(0))
	c.tanks[0].Litres--
	assert.False(t, c.canLose(0))
}

// The switch that weighed is the one that has to be made again.
func TestTheSwitchThatWeighedIsWaitedFor(t *testing.T) {
	for name, tt := range map[string]struct {
		at         safety.Litres
		low, level safety.Level
		told       int
	}{
		"the level switch is not made again": {150, safety.Wet, safety.Dry, 1},
		"it is, and the low switch is not":   {150, safety.Dry, safety.Wet, 0},
		"the low switch is not made again":   {140, safety.Dry, safety.Wet, 1},
		"it is, and the level switch is not": {140, safety.Wet, safety.Dry, 0},
	} {
		c := scales(t, func(s *Setup) { s.Limits.Reservoirs[0].Level, s.Limits.Reservoirs[0].LevelAt = true, 150 })
		hold(c, 9, 190)
		r := &c.view.Reservoirs[0]
		r.Low.Level, r.Level.Level = tt.low, tt.level
		c.tanks[0].home = homecoming{at: tt.at, by: c.now.Mono}
		c.watchHome(0)
		assert.Len(t, said(c), tt.told, name)
	}
}

func TestAFloodThatWaitedBehindAnotherSaysWhatKeptIt(t *testing.T) {
	for start, want := range map[safety.Interlock]Outcome{"": Missed, safety.MinRest: Missed, safety.ReservoirLow: Refused} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.run(time.Hour - time.Minute)
		c := r.control
		c.view.Benches[0].Start = safety.Refusal{Interlock: start}
		j := c.newJob(0, ByCatchUp, r.now.Wall, 0)
		c.closeBehind(&j)
		assert.Equal(t, want, j.flood.Outcome, "%q", start)
	}
}

func TestAFloodByHandThatFailsIsNoTroubleOfTheCrop(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "21:00"), "2026-03-02 08:00")
	r.run(time.Hour)
	r.tables[0].dead = true
	require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
	r.run(time.Hour)
	require.Equal(t, Unproven, r.rows()[0].Outcome)
	assert.False(t, r.control.crops[0].trouble)
}

// A slot that a wrong clock dated in the future is taken to have been wanted half an
// interval ago.
func TestWhenAFloodWasWanted(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.turn()
	for ago, want := range map[time.Duration]time.Duration{time.Hour: time.Hour, 0: 0, -time.Hour: 6 * time.Hour} {
		f := Flood{Due: r.now.Wall.Add(-ago)}
		assert.Equal(t, want, r.now.Mono-r.control.wantedAt(&f), "due %s ago", ago)
	}
}
