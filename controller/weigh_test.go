package controller

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

func TestDrawIsReadBetweenItsMoments(t *testing.T) {
	d := Draw{Curve: []float64{0, 0.3, 0.6, 1}}
	for share, want := range map[float64]float64{-1: 0, 0: 0, 1.0 / 6: 0.15, 1.0 / 3: 0.3, 0.5: 0.45, 1: 1, 2: 1} {
		assert.InDelta(t, want, d.Out(share), 1e-9, share)
	}
	assert.InDelta(t, 0.6, Draw{Curve: []float64{0.2, 1}}.Out(0.5), 1e-9)
	assert.InDelta(t, 0.4, Draw{}.Out(0.4), 1e-9, "without a curve as time goes")
}

func TestAWeighingIsTheSwitchAndWhatTheFillHadTaken(t *testing.T) {
	straight := Draw{ToFull: 60, Holds: 30}
	for name, c := range map[string]struct {
		lacks        safety.Litres
		fell, filled time.Duration
		want         float64
	}{
		"half the fill":          {0, 100 * time.Second, 200 * time.Second, 150 + 30},
		"a pump half as strong":  {0, 200 * time.Second, 400 * time.Second, 150 + 30},
		"pots that drink in it":  {10, 100 * time.Second, 200 * time.Second, 150 + (60+10*0.4390)/2},
		"no more than they hold": {1e6, 100 * time.Second, 200 * time.Second, 150 + (60+30)/2},
	} {
		litres, give := weigh(150, 0, straight, c.lacks, c.fell, c.filled)
		assert.InDelta(t, c.want, float64(litres), 0.01, name)
		assert.Positive(t, give, name)
		if c.lacks == 0 {
			assert.InDelta(t, 6.1392, float64(give), 1e-4, "%s: the root of 0.5², 6² and 1.2²", name)
		}
	}
}

// scales is a controller whose plants drink a litre an hour on the hottest days,
// half of it on normal ones.
func scales(t *testing.T, with func(*Setup)) *Controller {
	s := testSetup(1, 48*time.Hour, "09:00", "12:00", "15:00")
	s.Limits.FloorDrained = false
	s.Draw = func(int, schedule.Date) Draw { return Draw{ToFull: 60, Holds: 500} }
	s.Drunk = func(_ int, from, to time.Time) Drunk {
		h := safety.Litres(to.Sub(from).Hours())
		return Drunk{Normal: h / 2, Hottest: h}
	}
	if with != nil {
		with(&s)
	}
	now := safety.Now{Wall: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC), Trusted: true}
	c, err := New(s, now)
	require.NoError(t, err)
	c.view = &safety.View{Benches: make([]safety.BenchView, 1), Reservoirs: make([]safety.ReservoirView, 1)}
	return c
}

// hold weighs at an hour, after the flood before it has run.
func hold(c *Controller, hour float64, litres safety.Litres) {
	wall := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC).Add(time.Duration(hour * float64(time.Hour)))
	c.now = safety.Now{Mono: time.Duration(hour * float64(time.Hour)), Wall: wall, Trusted: true}
	c.benches[0].run.lacked = c.thirsty(0).Drunk
	c.benches[0].run.flood.ID++
	c.weighed(Weighing{Flood: c.benches[0].run.flood.ID, At: wall, Trusted: true, Litres: litres, Give: 1}, homecoming{at: 140})
	c.floodRan(0, &safety.BenchView{Started: c.now.Mono, FullAt: c.now.Mono + 1, Stopped: c.now.Mono + 1})
	c.tanks[0].home.by = 0
}

func said(c *Controller) (all []string) {
	for _, e := range c.TakeEvents() {
		switch e.Kind {
		case MessageSent:
			all = append(all, string(e.Message.Urgency)+": "+e.Message.Text)
		case WaterLost:
			all = append(all, "latch: "+e.Text)
		}
	}
	return all
}

func TestLostWaterIsToldAtTheFirstFloodAndLatchesAtTheSecond(t *testing.T) {
	// V_flood is 70 L: 5 % are 3.5 L. Before 9:00 the pots lack what the interval of 8 h takes.
	c := scales(t, nil)
	hold(c, 9, 180)
	hold(c, 12, 180-8-3.4)
	assert.Empty(t, said(c), "no more than they can have drunk, and what weighings err")

	c = scales(t, nil)
	hold(c, 9, 180)
	hold(c, 12, 180-8-3.6)
	told := said(c)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "today: north: 4 L more than the plants can have drunk went in the flood of Mon 2 Mar 09:00.")
	assert.Contains(t, told[0], "If you took it out, say so: on the page, or by benchtide took-out tank.")

	hold(c, 15, 150)
	told = said(c)
	require.Len(t, told, 1)
	assert.True(t, strings.HasPrefix(told[0], "latch: 11 L more than the plants can have drunk went in the last 2 floods, since Mon 2 Mar 09:00"), told)
}

func TestPairsOfWeighingsThatSayNothing(t *testing.T) {
	for name, between := range map[string]func(*Controller){
		"filled anew":                 func(c *Controller) { c.Filled(c.now, 0, 200) },
		"too many that did not weigh": func(c *Controller) { c.tanks[0].Floods += farthest },
		"a clock not trusted":         func(c *Controller) { c.tanks[0].Last.Trusted = false },
		"a bench that left":           func(c *Controller) { c.tanks[0].Voided = true },
		"judged before":               func(c *Controller) { c.tanks[0].Judged = true },
	} {
		c := scales(t, nil)
		hold(c, 9, 180)
		between(c)
		hold(c, 12, 120)
		assert.Empty(t, said(c), name)
		assert.False(t, c.tanks[0].Last.Paired, name)
	}
}

func TestTopUpsAreCountedAndUnknownOnesAskedAbout(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	c.ToppedUp(c.now, 0, 30, c.now.Wall)
	hold(c, 12, 185)
	told := said(c)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "17 L more than the plants can have drunk")

	c = scales(t, nil)
	hold(c, 9, 150)
	hold(c, 12, 190)
	told = said(c)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "this week: tank: about 44 L came since Mon 2 Mar 09:00 that nobody wrote down. They are booked as a top-up.")
	assert.EqualValues(t, 44, c.tanks[0].Last.Came, "what the plants drank meanwhile came too")
}

func TestWhatGoesWithTheHoursIsTheReservoirs(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	hold(c, 10, 172) // as the plants may have drunk
	said(c)
	hold(c, 18, 130)
	told := said(c)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "tank: 3")
	assert.Contains(t, told[0], "as the hours passed and not as floods ran")
	assert.Zero(t, c.tanks[0].Loss.Floods)
}

func TestADrainedFloorKeepsFloodingWhileAFloodFits(t *testing.T) {
	c := scales(t, func(s *Setup) { s.Limits.FloorDrained = true })
	hold(c, 9, 180)
	hold(c, 12, 150)
	hold(c, 15, 120)
	for _, m := range said(c) {
		assert.True(t, strings.HasPrefix(m, "today: north"), m)
	}
	hold(c, 18, 85)
	told := said(c)
	require.Len(t, told, 1)
	assert.True(t, strings.HasPrefix(told[0], "latch: "), "no flood fits into 85 L: %v", told)
}

func TestASwitchThatIsNotMadeAgainTellsOfTheLoss(t *testing.T) {
	for name, c := range map[string]struct {
		level safety.Level
		held  safety.Litres
		told  int
	}{
		"made again":            {safety.Wet, 180, 0},
		"too little to be sure": {safety.Dry, 140 + 8 + 3, 0},
		"lost":                  {safety.Dry, 180, 1},
	} {
		k := scales(t, nil)
		hold(k, 9, c.held)
		k.view.Reservoirs[0].Low.Level = c.level
		k.tanks[0].home.by = k.now.Mono + time.Minute
		k.watchHome(0)
		assert.Empty(t, said(k), name)
		k.now.Mono += time.Minute
		k.watchHome(0)
		assert.Len(t, said(k), c.told, name)
		assert.Equal(t, c.told > 0, k.tanks[0].Judged, name)
		if c.told > 0 {
			assert.EqualValues(t, 140, k.tanks[0].Litres, "no more than the switch shows")
		}
		k.watchHome(0)
		assert.Empty(t, said(k), "once: "+name)
	}
}

func TestWhatIsKnownOfAReservoirOutlastsARestart(t *testing.T) {
	c := scales(t, nil)
	assert.Equal(t, Unknown, c.tanks[0].Basis)
	hold(c, 9, 180)
	require.Equal(t, Weighed, c.tanks[0].Basis)
	st := c.State("boot")
	again, err := Resume(c.setup, c.now, st, "boot")
	require.NoError(t, err)
	assert.Equal(t, c.tanks[0].Last.Litres, again.tanks[0].Last.Litres)
	assert.False(t, again.tanks[0].Voided)

	other := c.setup
	other.Limits = testLimits(1)
	other.Limits.Benches[0].Name = "west"
	again, err = Resume(other, c.now, st, "boot")
	require.NoError(t, err)
	assert.True(t, again.tanks[0].Voided, "the bench of the weighing is gone")
}

func TestNothingIsKnownAfterWaterThatNobodyCanFollow(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	c.now.Mono += time.Hour
	c.floodRan(0, &safety.BenchView{Started: c.now.Mono, Stopped: c.now.Mono})
	assert.Equal(t, Unknown, c.tanks[0].Basis)
	c.ToppedUp(c.now, 0, 20, c.now.Wall)
	assert.Equal(t, Unknown, c.tanks[0].Basis, "litres added to nobody knows how many")
	c.Filled(c.now, 0, 200)
	assert.Equal(t, Noted, c.tanks[0].Basis)
}

func TestAWeighingTakesWhatPotsDrinkOnNormalDays(t *testing.T) {
	c := scales(t, nil)
	c.now.Mono = time.Hour
	v := &safety.BenchView{Flood: 1, Started: 54 * time.Minute, FullAt: 54*time.Minute + 200*time.Second}
	c.view.Reservoirs[0].Low = safety.Switch{Level: safety.Dry, Since: v.Started + 100*time.Second}
	c.weighFill(0, v)
	// Since the interval of 8 h before it the pots lack 4 L by normal days, of which they drink 0.4390 until FULL.
	assert.InDelta(t, 140-0.0125*200+(60+4*0.4390)/2, float64(c.tanks[0].Last.Litres), 0.01)
	assert.Equal(t, c.now.Wall.Add(-6*time.Minute), c.tanks[0].Last.At, "it holds for the start of the fill")
	assert.Equal(t, c.tanks[0].Last.At, c.tanks[0].Since, "and is shown with that time")
}

func TestATopUpIsOnRecordWithTheNextWeighingWhateverIsKnown(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	c.floodRan(0, &safety.BenchView{Started: c.now.Mono, Stopped: c.now.Mono}) // FULL was not made
	require.Equal(t, Unknown, c.tanks[0].Basis)
	c.ToppedUp(c.now, 0, 20, c.now.Wall)
	hold(c, 12, 170)
	assert.EqualValues(t, 20, c.tanks[0].Last.Noted)
}

func TestWaterThatCameIsHeldAgainstTheFloodBefore(t *testing.T) {
	c := scales(t, func(s *Setup) {
		two := testSetup(2, 48*time.Hour, "09:00", "12:00", "15:00")
		two.Limits.Benches[1].Flood = 20
		two.Draw, two.Drunk = s.Draw, s.Drunk
		*s = two
	})
	c.view.Benches = make([]safety.BenchView, 2)
	hold(c, 9, 150) // of 70 L: weighings of a shared reservoir err by 5.6 L
	c.weighed(Weighing{Bench: 1, Flood: 2, At: c.now.Wall.Add(3 * time.Hour), Trusted: true, Litres: 153, Give: 1}, homecoming{at: 140})
	assert.Empty(t, said(c), "no more than weighings err")
	assert.True(t, c.tanks[0].Last.Paired)
}

func TestAThickFloatIsTrustedLess(t *testing.T) {
	c := scales(t, func(s *Setup) { s.Bands = [][2]float64{{0.006, 0}} })
	assert.EqualValues(t, 0.08*c.limits(0).Flood, c.margin(0))
	c = scales(t, func(s *Setup) { s.Bands = [][2]float64{{0.005, 0.008}} })
	assert.EqualValues(t, 0.05*c.limits(0).Flood, c.margin(0), "the thick one does not weigh")
	c = scales(t, func(s *Setup) {
		s.Limits.Reservoirs[0].Level, s.Limits.Reservoirs[0].LevelAt = true, 150
		s.Bands = [][2]float64{{0.006, 0}}
	})
	assert.EqualValues(t, 0.05*c.limits(0).Flood, c.margin(0), "the level switch weighs")
	band, give := c.band(0, bySwitchLevel)
	assert.Equal(t, [2]float64{ordinaryBand, wideBand}, [2]float64{band, give})
}

// By hand: 5 mm of 0.5 m² are 2.5 L; 3 mm to either side are a standard deviation of
// 1.7321 mm, 34.641 % of the band, with 26 % of the surface 43.313 % of the litres.
func TestHowManyLitresAFloatTurnsBackBelow(t *testing.T) {
	for name, tt := range map[string]struct {
		bands        [][2]float64
		surfaces     []float64
		litres, give float64
	}{
		"nobody says anything":       {nil, nil, 2.5, 1.96 * 0.43313 * 2.5},
		"the file gives its inside":  {nil, []float64{0.8}, 4, 1.96 * 0.34771 * 4},
		"and how far it turns back":  {[][2]float64{{0.006, 0}}, []float64{0.8}, 4.8, 1.96 * 0.147422 * 4.8},
		"but not of the tank beside": {[][2]float64{{0, 0.006}}, []float64{0}, 2.5, 1.96 * 0.43313 * 2.5},
	} {
		c := scales(t, func(s *Setup) { s.Bands, s.Surfaces = tt.bands, tt.surfaces })
		litres, give := c.back(0, bySwitchLow)
		assert.InDelta(t, tt.litres, float64(litres), 1e-9, name)
		assert.InDelta(t, tt.give, float64(give), 1e-3, name)
	}
}

// Each thing that a weighing does not know counts by itself.
func TestWhatAWeighingDoesNotKnowAddsUpBySquares(t *testing.T) {
	fill := Draw{ToFull: 60, Give: 6, Holds: 30}
	for name, tt := range map[string]struct {
		at, back     safety.Litres
		d            Draw
		lacks        safety.Litres
		fell, filled time.Duration
		want         float64
	}{
		"nothing but waves":      {0, 0, Draw{}, 0, 0, time.Second, 0.5},
		"the tank's mark":        {100, 0, Draw{}, 0, 0, time.Second, math.Hypot(0.5, 4)},
		"the float":              {0, 2, Draw{}, 0, 0, time.Second, math.Hypot(0.5, 2)},
		"half of the fill":       {0, 0, fill, 0, 100 * time.Second, 200 * time.Second, math.Hypot(math.Hypot(0.5, 1.2), 3)},
		"half of what pots draw": {0, 0, Draw{Holds: 30}, 10, 100 * time.Second, 200 * time.Second, math.Hypot(0.5, 0.25*4.390)},
	} {
		_, give := weigh(tt.at, tt.back, tt.d, tt.lacks, tt.fell, tt.filled)
		assert.InDelta(t, tt.want, float64(give), 1e-3, name)
	}
}

func TestAThickFloatThatIsNotMadeAgainIsNoLossYet(t *testing.T) {
	for band, told := range map[safety.Litres]int{0: 1, 9: 0} {
		c := scales(t, nil)
		hold(c, 9, 140+8+10)
		c.view.Reservoirs[0].Low.Level = safety.Dry
		c.tanks[0].home = homecoming{at: 140, band: band, by: c.now.Mono}
		c.watchHome(0)
		assert.Len(t, said(c), told, "what a weighing may be off by the band: %v L", band)
	}
}

// Storage that took nothing before the program ended knows of no flood that ran
// meanwhile, and its plants drank all the same: such a pair would accuse them. An
// outage in which no flood was due parts no pair.
func TestNoPairSpansAFloodOfWhichNothingIsOnRecord(t *testing.T) {
	for name, tt := range map[string]struct {
		back float64 // hour of the restart
		open []Flood
		next float64 // hour of the next weighing
		told int
	}{
		"the flood of 12:00 may have run":        {12.5, nil, 15, 0},
		"no flood was due":                       {11.9, nil, 12, 1},
		"a flood by hand was under way":          {10, []Flood{{ID: 9, Cause: ByHand, Started: time.Date(2026, 3, 2, 9, 50, 0, 0, time.UTC)}}, 12, 0},
		"that of another bench of another tank":  {10, []Flood{{ID: 9, Bench: 7}}, 12, 1},
		"a flood waited for its turn at the end": {10, []Flood{{ID: 9, HasSlot: true, Due: time.Date(2026, 3, 2, 9, 50, 0, 0, time.UTC)}}, 12, 0},
	} {
		c := scales(t, nil)
		hold(c, 9, 180)
		st := c.State("boot")
		st.Open = tt.open
		at := time.Duration(tt.back * float64(time.Hour))
		again, err := Resume(c.setup, safety.Now{Mono: at, Wall: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC).Add(at), Trusted: true}, st, "boot")
		require.NoError(t, err)
		again.view = c.view
		said(again)
		hold(again, tt.next, 180-8-10)
		assert.Len(t, said(again), tt.told, name)
	}
}

// What a tank holds is known the less the more was drawn from it since, and never to be
// more than it can hold.
func TestWhatATankHoldsStaysWithinWhatItCan(t *testing.T) {
	c := scales(t, nil)
	usable := c.setup.Limits.Reservoirs[0].Usable
	hold(c, 9, usable-20)
	litres, give := c.tanks[0].Litres, c.tanks[0].Give
	c.now.Mono, c.now.Wall = c.now.Mono+3*time.Hour, c.now.Wall.Add(3*time.Hour)
	c.floodRan(0, &safety.BenchView{Started: c.now.Mono, FullAt: c.now.Mono + 1, Stopped: c.now.Mono + 1, FullFor: time.Hour})
	drunk := litres - c.tanks[0].Litres
	require.Positive(t, drunk)
	assert.InDelta(t, float64(give+drunk/2), float64(c.tanks[0].Give), 1e-9, "half of what was drunk may be wrong")
	assert.Equal(t, Expected, c.tanks[0].Basis)
	assert.Equal(t, hour(9), c.tanks[0].Since.UTC(), "since it was weighed")
	c.ToppedUp(c.now, 0, 60, c.now.Wall)
	assert.Equal(t, usable, c.tanks[0].Litres)
}

// Very dry peat takes less at once: after a long flood pots may lack half of the most
// that they can have drunk, although they lack nothing by normal days.
func TestWhatPotsLackAfterALongFlood(t *testing.T) {
	c := scales(t, nil)
	lacked := c.thirsty(0).Drunk
	require.Positive(t, lacked.Hottest)
	c.forget(0)
	c.dirty = false
	c.quenched(0, time.Hour)
	assert.InDelta(t, 0, float64(c.thirsty(0).Drunk.Normal), 1e-6)
	assert.Equal(t, lacked.Hottest/2, c.thirsty(0).Drunk.Hottest)
	assert.True(t, c.dirty, "a restart knows it")
}

func TestALossGoesOnAfterTheOneThatASwitchTold(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	c.view.Reservoirs[0].Low.Level = safety.Dry
	c.tanks[0].home.by = c.now.Mono
	c.watchHome(0)
	require.Len(t, said(c), 1)
	hold(c, 12, 135)
	assert.Empty(t, said(c), "known already")
	hold(c, 15, 105)
	told := said(c)
	require.Len(t, told, 1)
	assert.True(t, strings.HasPrefix(told[0], "latch: "), "and the next is judged again: %v", told)
}

func TestWaterThatIsFilledAnewEndsARowOfLosses(t *testing.T) {
	c := lossAt(t)
	c.Filled(c.now, 0, 200)
	hold(c, 15, 180)
	require.Empty(t, said(c))
	hold(c, 18, 150)
	told := said(c)
	require.Len(t, told, 1)
	assert.True(t, strings.HasPrefix(told[0], "today: north"), "one flood, and not the second in a row: %v", told)
}

func TestARestartFindsTheBenchOfTheLastWeighingAgain(t *testing.T) {
	c := shared(t)
	c.now = safety.Now{Mono: 9 * time.Hour, Wall: hour(9), Trusted: true}
	c.weighed(Weighing{Bench: 1, Flood: 1, At: hour(9), Trusted: true, Litres: 180, Give: 1}, homecoming{at: 140})
	c.tanks[0].Floods = 1
	text, err := json.Marshal(c.State("boot"))
	require.NoError(t, err)
	var st State
	require.NoError(t, json.Unmarshal(text, &st))
	again, err := Resume(c.setup, c.now, st, "boot")
	require.NoError(t, err)
	again.view = c.view
	said(again)
	again.now = safety.Now{Mono: 12 * time.Hour, Wall: hour(12), Trusted: true}
	again.weighed(Weighing{Bench: 0, Flood: 2, At: hour(12), Trusted: true, Litres: 150, Give: 1}, homecoming{at: 140})
	told := said(again)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "today: south: 30 L more than the plants can have drunk went in the flood of Mon 2 Mar 09:00.")
}
