package controller

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// A fill weighs only where its own switch falls in it, before FULL.
func TestWhichFillsWeigh(t *testing.T) {
	v := &safety.BenchView{Flood: 1, Started: 54 * time.Minute, FullAt: 58 * time.Minute}
	for name, tt := range map[string]struct {
		low    safety.Switch
		toFull safety.Litres
		fitted bool
		weighs bool
	}{
		"it falls in the fill":       {safety.Switch{Level: safety.Dry, Since: 56 * time.Minute}, 60, true, true},
		"it is not fitted":           {safety.Switch{Level: safety.Dry, Since: 56 * time.Minute}, 60, false, false},
		"it is made":                 {safety.Switch{Level: safety.Wet, Since: 56 * time.Minute}, 60, true, false},
		"it fell before":             {safety.Switch{Level: safety.Dry, Since: 50 * time.Minute}, 60, true, false},
		"it fell as the pump began":  {safety.Switch{Level: safety.Dry, Since: 54 * time.Minute}, 60, true, false},
		"it fell as FULL was made":   {safety.Switch{Level: safety.Dry, Since: 58 * time.Minute}, 60, true, false},
		"nobody knows what it takes": {safety.Switch{Level: safety.Dry, Since: 56 * time.Minute}, 0, true, false},
	} {
		c := scales(t, func(s *Setup) {
			s.Limits.Reservoirs[0].Low = tt.fitted
			s.Draw = func(int, schedule.Date) Draw { return Draw{ToFull: tt.toFull, Holds: 500} }
		})
		c.now.Mono = time.Hour
		c.view.Reservoirs[0].Low = tt.low
		c.weighFill(0, v)
		assert.Equal(t, tt.weighs, c.tanks[0].Last.Flood != 0 || c.tanks[0].Basis == Weighed, name)
		if tt.weighs {
			assert.InDelta(t, math.Sqrt(0.25+2.122*2.122+5.5*5.5+0.5*0.5+1.2*1.2), float64(c.tanks[0].Last.Give), 0.01, "what the float's band may hide too")
		}
	}
}

// Water that stood for the time constant of the pots leaves e^-1 of what they lacked:
// half the fill counts for as long as the water stood that high.
func TestHowLongWaterStoodAtThePots(t *testing.T) {
	for name, v := range map[string]safety.BenchView{
		"half the fill":             {FullAt: 9*time.Hour + 346*time.Second, Stopped: 9*time.Hour + 346*time.Second},
		"the hold":                  {FullAt: 9*time.Hour + 146*time.Second, Stopped: 10 * time.Hour, FullFor: 100 * time.Second},
		"half of what never filled": {Stopped: 9*time.Hour + 346*time.Second},
	} {
		c := scales(t, nil)
		c.now = safety.Now{Mono: 9 * time.Hour, Wall: hour(9), Trusted: true}
		v.Started = c.now.Mono
		before := c.thirsty(0).Drunk.Normal
		require.Positive(t, before)
		c.floodRan(0, &v)
		assert.InDelta(t, float64(before)*0.36788, float64(c.thirsty(0).Drunk.Normal), 1e-4, name)
	}
}

func TestAWeighedFloodIsHomeAfterHalfAsLongAgainAsItDrains(t *testing.T) {
	c := scales(t, nil)
	c.benches[0].run.flood.ID = 1
	c.weighed(Weighing{Flood: 1, At: hour(9), Trusted: true, Litres: 180, Give: 1}, homecoming{at: 140})
	c.floodRan(0, &safety.BenchView{Started: c.now.Mono, FullAt: c.now.Mono + 1, Stopped: c.now.Mono + 1})
	assert.Equal(t, c.now.Mono+1+18*time.Minute, c.tanks[0].home.by)
}

// A twentieth of what people pour may be wrong.
func TestWhatIsPouredIsKnownToATwentieth(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 150)
	give := c.tanks[0].Give
	c.ToppedUp(c.now, 0, 20, c.now.Wall)
	assert.InDelta(t, float64(give)+1, float64(c.tanks[0].Give), 1e-9)
	c.Filled(c.now, 0, 200)
	assert.InDelta(t, 10, float64(c.tanks[0].Give), 1e-9)
}

func TestWhatPotsLackIsWorkedOutAnewWhereTheClockSaysNothing(t *testing.T) {
	for name, at := range map[string]time.Time{"never yet": {}, "the clock was set back": hour(10), "long ago": hour(9 - 8*24)} {
		c := scales(t, nil)
		c.now = safety.Now{Mono: 9 * time.Hour, Wall: hour(9), Trusted: true}
		c.benches[0].thirst = thirst{At: at, Drunk: Drunk{Normal: 90, Hottest: 90}}
		got := c.thirsty(0).Drunk
		assert.Equal(t, Drunk{Normal: 4, Hottest: 8}, got, "%s: that of the interval of 8 h", name)
	}
}

func TestARecordWithoutReservoirsLeavesThemUnknown(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	for name, tanks := range map[string]map[string]tank{"none": nil, "one of which nothing is said": {"tank": {}}} {
		st := c.State("boot")
		st.Tanks = tanks
		again, err := Resume(c.setup, c.now, st, "boot")
		require.NoError(t, err)
		assert.Equal(t, Unknown, again.tanks[0].Basis, name)
	}
}

// What a month ago was told is no longer what is usual.
func TestARiseAfterAMonthIsNotLearntAsUsual(t *testing.T) {
	for days, learnt := range map[int]bool{31: false, 29: true} {
		c := scales(t, nil)
		pairs(c, -3, -3, -3)
		was := c.benches[0].usual[0].Pairs
		c.benches[0].slow.Told = c.now.Wall.Add(-time.Duration(days) * 24 * time.Hour)
		c.shows(0, 0, 1)
		require.Positive(t, c.benches[0].slow.Jump)
		assert.Equal(t, learnt, c.benches[0].usual[0].Pairs > was, "%d days", days)
	}
}

func TestASlowLossBeginsWithThePairAfterNothingWasLost(t *testing.T) {
	c := scales(t, nil)
	c.shows(0, 0, -5)
	began, n := c.now.Wall, 0
	for len(said(c)) == 0 {
		c.shows(0, 0, 0.45)
		n++
		require.Less(t, n, 200)
		if s := c.benches[0].slow; s.Floods > 0 {
			require.Equal(t, n, s.Floods)
			require.Equal(t, began, s.From)
		}
	}
}

func TestStatusSaysBetweenWhichLitresAReservoirLies(t *testing.T) {
	for name, tt := range map[string]struct {
		basis      Basis
		low        safety.Level
		litres     safety.Litres
		out        bool
		want       safety.Litres
		from, upto safety.Litres
	}{
		"weighed":                      {Weighed, safety.Absent, 100, false, 100, 95, 105},
		"less than it may be wrong by": {Weighed, safety.Absent, 3, false, 3, 0, 8},
		"a made switch shows more":     {Weighed, safety.Wet, 100, false, 140, 140, 140},
		"a clear one shows less":       {Weighed, safety.Dry, 160, false, 140, 140, 140},
		"a clear one says no more":     {Weighed, safety.Dry, 100, false, 100, 95, 105},
		"nothing is known":             {Unknown, safety.Dry, 0, false, 0, 0, 0},
		"but what a made one proves":   {Unknown, safety.Wet, 0, false, 140, 0, 0},
		"with a flood under way":       {Weighed, safety.Wet, 100, true, 30, 25, 105},
	} {
		c := scales(t, nil)
		c.tanks[0].Basis, c.tanks[0].Litres, c.tanks[0].Give = tt.basis, tt.litres, 5
		if tt.basis == Unknown {
			c.tanks[0].Give = 0
		}
		c.view.Reservoirs[0].Low.Level = tt.low
		if tt.out {
			c.benches[0].phase = Filling
		}
		st := c.reservoirStatus(0)
		assert.Equal(t, tt.want, st.Litres, name)
		assert.Equal(t, [2]safety.Litres{tt.from, tt.upto}, st.Span, name)
	}
}
