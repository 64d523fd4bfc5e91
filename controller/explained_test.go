package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func TestOnlyOpenQuestionsAboutWaterAreAsked(t *testing.T) {
	for name, tt := range map[string]struct {
		u     Unexplained
		asked bool
	}{
		"none":     {Unexplained{}, false},
		"open":     {Unexplained{Litres: 3}, true},
		"answered": {Unexplained{Litres: 3, Answer: Poured}, false},
		"undone":   {Unexplained{Answer: Undone}, false},
	} {
		assert.Equal(t, tt.asked, tt.u.Asked(), name)
	}
	u := Unexplained{Litres: 5}
	assert.True(t, u.near(5.5) && u.near(4.5), "as far as figures are rounded")
	assert.False(t, u.near(5.51) || u.near(4.49))
}

func TestWhatIsAccountedForIsTakenBackWhereItWasTold(t *testing.T) {
	gone := func(c *Controller) (all []Message) {
		for _, e := range c.TakeEvents() {
			if e.Kind == MessageSent && e.Message.Gone {
				all = append(all, e.Message)
			}
		}
		return all
	}
	c := lossAt(t)
	_, _, err := c.TookOut(c.now, 0, 0, "Kim")
	require.NoError(t, err)
	m := gone(c)
	require.Len(t, m, 1)
	assert.Equal(t, 0, m[0].Bench)
	assert.Equal(t, LostCause, m[0].Cause)

	c.missing(0, "", 20, hour(12), hour(15), false) // the reservoir's own
	_, _, err = c.TookOut(c.now, 0, 0, "")
	require.NoError(t, err)
	m = gone(c)
	require.Len(t, m, 1)
	assert.Equal(t, -1, m[0].Bench)
	assert.Equal(t, LostCause+"-tank", m[0].Cause)
}

func TestABookingSaysWhoSaidSo(t *testing.T) {
	assert.Equal(t, "taken out", asSaid("", "taken out"))
	assert.Equal(t, "taken out, as Kim says", asSaid("Kim", "taken out"))
}

// Water that came is what was written down too early only where just so much was
// missing at the weighing before, with a top-up on record, and nobody has said what
// became of it.
func TestWaterThatCameIsTheOneMissingOnlyWhereAllFits(t *testing.T) {
	for name, tt := range map[string]struct {
		with   func(*Controller)
		litres safety.Litres
		undone bool
	}{
		"all fits":                           {func(*Controller) {}, 183, true},
		"somebody took it out":               {func(c *Controller) { c.tanks[0].Missing.answer(TakenOut, "Kim", c.now.Wall) }, 183, false},
		"it was missing at an older one":     {func(c *Controller) { c.tanks[0].Missing.At = hour(9) }, 183, false},
		"nothing had been written down":      {func(c *Controller) { c.tanks[0].Last.Noted = 0 }, 183, false},
		"more came than weighings err, by 3": {func(*Controller) {}, 193, false},
	} {
		c := scales(t, nil)
		hold(c, 9, 150)
		c.ToppedUp(c.now, 0, 40, c.now.Wall)
		hold(c, 12, 146)
		require.Len(t, said(c), 1)
		tt.with(c)
		hold(c, 15, tt.litres)
		assert.Equal(t, tt.undone, c.tanks[0].Missing.Answer == Undone, name)
		assert.Equal(t, !tt.undone, c.tanks[0].Came.Litres > 0, name)
	}
}

func TestLossesAddUpForOneBenchWhileNobodyHasAnswered(t *testing.T) {
	for name, tt := range map[string]struct {
		bench  string
		answer Answer
		more   bool
		litres safety.Litres
	}{
		"the next of it":       {"north", Open, true, 32},
		"of another bench":     {"south", Open, true, 10},
		"after an answer":      {"north", TakenOut, true, 10},
		"the first of another": {"north", Open, false, 10},
	} {
		c := lossAt(t)
		c.tanks[0].Missing.Answer = tt.answer
		c.missing(0, tt.bench, 10, hour(12), hour(15), tt.more)
		assert.InDelta(t, float64(tt.litres), float64(c.tanks[0].Missing.Litres), 1e-9, name)
		assert.Equal(t, hour(15), c.tanks[0].Missing.At, name)
	}
}

func TestATopUpIsLateOnlyByClocksThatAreTrusted(t *testing.T) {
	for name, tt := range map[string]struct {
		with func(*Controller)
		at   float64
		late bool
	}{
		"before the weighing":            {func(*Controller) {}, 11, true},
		"after it":                       {func(*Controller) {}, 12, false},
		"nothing was weighed":            {func(c *Controller) { c.tanks[0].Last.Flood = 0 }, 11, false},
		"it bears a time of no clock":    {func(c *Controller) { c.tanks[0].Last.Trusted = false }, 11, false},
		"the clock is not trusted today": {func(c *Controller) { c.now.Trusted = false }, 11, false},
	} {
		c := scales(t, nil)
		hold(c, 9, 180)
		hold(c, 12, 175)
		tt.with(c)
		assert.Equal(t, tt.late, c.late(0, 1, hour(tt.at)), name)
	}
}

// A top-up takes the place of the water that came only where it was poured between
// the two weighings, and nobody has said that nobody poured.
func TestATopUpOfAnotherTimeIsOtherWater(t *testing.T) {
	for name, tt := range map[string]struct {
		answer Answer
		litres safety.Litres
		at     time.Time
		takes  bool
	}{
		"between the two":       {Open, 44, hour(10), true},
		"at the first of them":  {Open, 44, hour(9), true},
		"before them":           {Open, 44, hour(8), false},
		"nobody poured":         {Nobody, 44, hour(10), false},
		"said already":          {Poured, 44, hour(10), false},
		"nothing came":          {Open, 0, hour(10), false},
		"after that which came": {Open, 44, hour(12), false},
	} {
		c := cameAt(t)
		hold(c, 15, 188)
		c.TakeEvents()
		c.tanks[0].Came.Answer, c.tanks[0].Came.Litres = tt.answer, tt.litres
		c.ToppedUp(c.now, 0, 1, tt.at)
		assert.Equal(t, tt.takes, len(booked(c)) == 1, name)
		assert.Equal(t, tt.takes, tt.answer == Open && c.tanks[0].Came.Answer == Poured, name)
	}
	c := cameAt(t)
	hold(c, 15, 188)
	c.ToppedUp(c.now, 0, 20, hour(13))
	told := said(c)
	require.NotEmpty(t, told)
	assert.Contains(t, told[len(told)-1], "more than the plants can have drunk", "which hid a loss after it")
	c = cameAt(t)
	c.tanks[0].Came.Answer = Poured
	hold(c, 15, 188)
	said(c)
	c.ToppedUp(c.now, 0, 20, hour(10))
	assert.Empty(t, said(c), "that of the older pair is no loss of the latest")
}

func TestALateTopUpAddsToALossOnlyWhileThatIsAskedAbout(t *testing.T) {
	c := lossAt(t)
	c.ToppedUp(c.now, 0, 10, hour(11))
	assert.EqualValues(t, 32, c.tanks[0].Loss.Litres, "what a latch would tell")

	c = lossAt(t)
	_, _, err := c.TookOut(c.now, 0, 0, "Kim")
	require.NoError(t, err)
	said(c)
	c.ToppedUp(c.now, 0, 10, hour(11))
	assert.EqualValues(t, 22, c.tanks[0].Missing.Litres, "answered is answered")
	assert.Empty(t, said(c))

	c = lossAt(t)
	hold(c, 15, 148)
	require.Empty(t, said(c))
	c.ToppedUp(c.now, 0, 1, hour(14))
	assert.Empty(t, said(c), "within what weighings err")
	assert.EqualValues(t, 22, c.tanks[0].Missing.Litres)
	c.ToppedUp(c.now, 0, 19, hour(14))
	assert.Len(t, said(c), 1, "a loss of its own, though an older one is still open")
}
