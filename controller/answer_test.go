package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

// booked are the bookings since the last look, and leaves nothing else.
func booked(c *Controller) (all []Booking) {
	for _, e := range c.TakeEvents() {
		if e.Kind == WaterBooked {
			all = append(all, e.Booking)
		}
	}
	return all
}

func hour(h float64) time.Time {
	return time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC).Add(time.Duration(h * float64(time.Hour)))
}

// lossAt has 22 L missing at 12:00.
func lossAt(t *testing.T) *Controller {
	c := scales(t, nil)
	hold(c, 9, 180)
	hold(c, 12, 150)
	require.Len(t, said(c), 1)
	require.True(t, c.tanks[0].Missing.Asked())
	return c
}

func TestWhatAPersonTookOutIsBookedOnceAndCountsNoMore(t *testing.T) {
	c := lossAt(t)
	u, first, err := c.TookOut(c.now, 0, 22, "Kim")
	require.NoError(t, err)
	assert.True(t, first)
	assert.EqualValues(t, 22, u.Litres)
	assert.Equal(t, []Booking{{Reservoir: 0, At: hour(12), Litres: -22}}, booked(c))
	assert.Zero(t, c.tanks[0].Loss)
	assert.EqualValues(t, Weighed, c.tanks[0].Basis, "the weighing after it stands")

	for _, by := range []string{"Kim", "Lou", ""} {
		u, first, err = c.TookOut(c.now, 0, 0, by)
		require.NoError(t, err)
		assert.False(t, first, "a second touch, or a second person")
		assert.Equal(t, "Kim", u.By)
		assert.Empty(t, booked(c))
	}

	hold(c, 15, 120)
	told := said(c)
	require.Len(t, told, 1)
	assert.NotContains(t, told[0], "latch", "the count begins anew")
	hold(c, 18, 90)
	told = said(c)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "latch", "a leak that goes on still latches")
}

func TestWhatWasTakenOutMayBeSaidWhenTheLossIsOver(t *testing.T) {
	c := lossAt(t)
	hold(c, 15, 150-2) // nothing more is lost
	require.Zero(t, c.tanks[0].Loss.Floods)
	c.now.Trusted = false // and whatever the clock
	_, first, err := c.TookOut(c.now, 0, 0, "")
	require.NoError(t, err)
	assert.True(t, first)
	assert.Len(t, booked(c), 1)
}

func TestNobodyTakesOutWhatIsNotMissingOrMoreThanWasSeen(t *testing.T) {
	c := scales(t, nil)
	_, _, err := c.TookOut(c.now, 0, 0, "")
	assert.ErrorContains(t, err, "no water is missing")

	c = lossAt(t)
	hold(c, 15, 120)
	c.TakeEvents()
	_, first, err := c.TookOut(c.now, 0, 22, "")
	assert.ErrorAs(t, err, new(ErrOtherLitres))
	assert.Equal(t, hour(15), c.tanks[0].Missing.At, "booked for the weighing that showed the last of it")
	assert.ErrorContains(t, err, "41 L are missing there since Mon 2 Mar 09:00")
	assert.False(t, first)
	assert.Empty(t, booked(c))
	_, first, err = c.TookOut(c.now, 0, 41.4, "")
	require.NoError(t, err, "what people are told is rounded")
	assert.True(t, first)
}

func TestAWordAboutMissingWaterOutlastsARestart(t *testing.T) {
	c := lossAt(t)
	again, err := Resume(c.setup, c.now, c.State("boot"), "boot")
	require.NoError(t, err)
	_, first, err := again.TookOut(c.now, 0, 0, "Kim")
	require.NoError(t, err)
	assert.True(t, first)
	again, err = Resume(c.setup, c.now, again.State("boot"), "boot")
	require.NoError(t, err)
	again.TakeEvents()
	u, first, err := again.TookOut(c.now, 0, 0, "Lou")
	require.NoError(t, err)
	assert.False(t, first)
	assert.Equal(t, "Kim", u.By)
	assert.Empty(t, booked(again))
}

func TestAResetBeginsThePairsAnew(t *testing.T) {
	c := lossAt(t)
	hold(c, 15, 120)
	c.TakeEvents()
	c.view.Benches[0].Latched = []safety.Trip{{Interlock: safety.LostWater}}
	c.watchLatch(0)
	_, _, err := c.TookOut(c.now, 0, 0, "Kim")
	require.NoError(t, err)
	assert.True(t, c.benches[0].wasLatched, "a word resets nothing")
	c.view.Benches[0].Latched = nil
	c.watchLatch(0)
	c.TakeEvents()
	hold(c, 18, 70)
	assert.Empty(t, said(c), "what went before the reset is known")
	hold(c, 21, 66)
	assert.Empty(t, said(c))
}

// cameAt has 44 L come before 12:00.
func cameAt(t *testing.T) *Controller {
	c := scales(t, nil)
	hold(c, 9, 150)
	hold(c, 12, 190)
	assert.Equal(t, []Booking{{At: hour(12), Litres: 44}}, booked(c))
	return c
}

func TestWaterThatCameIsBookedUnlessAPersonSaysOtherwise(t *testing.T) {
	c := cameAt(t)
	_, first, err := c.ToppedUpOrNot(c.now, 0, true, 44, "Kim")
	require.NoError(t, err)
	assert.True(t, first)
	assert.Empty(t, booked(c), "it is booked already")

	_, first, err = c.ToppedUpOrNot(c.now, 0, false, 44, "Lou")
	require.NoError(t, err)
	assert.True(t, first, "another person knows better")
	require.Len(t, said(c), 1)
	assert.Equal(t, Unknown, c.tanks[0].Basis)
	assert.True(t, c.tanks[0].Voided)
	_, first, err = c.ToppedUpOrNot(c.now, 0, false, 44, "Lou")
	require.NoError(t, err)
	assert.False(t, first)
	assert.Empty(t, said(c))

	_, first, err = c.ToppedUpOrNot(c.now, 0, true, 0, "Kim")
	require.NoError(t, err)
	assert.True(t, first)
	assert.Equal(t, []Booking{{At: hour(12), Litres: 44}}, booked(c))

	_, _, err = c.ToppedUpOrNot(c.now, 0, true, 50, "Kim")
	assert.ErrorAs(t, err, new(ErrOtherLitres))
	_, _, err = scales(t, nil).ToppedUpOrNot(c.now, 0, false, 0, "")
	assert.ErrorContains(t, err, "no water came")
}

func TestAWordOnAnOlderJumpLeavesTheLatestWeighing(t *testing.T) {
	c := cameAt(t)
	hold(c, 15, 188)
	_, _, err := c.ToppedUpOrNot(c.now, 0, false, 0, "")
	require.NoError(t, err)
	assert.Equal(t, Weighed, c.tanks[0].Basis)
	assert.False(t, c.tanks[0].Voided)
}

func TestATopUpWrittenDownLaterIsTheOneThatCame(t *testing.T) {
	c := cameAt(t)
	c.ToppedUp(c.now, 0, 40, hour(10))
	assert.Equal(t, []Booking{{At: hour(12), Withdrawn: true}}, booked(c), "the person's own entry takes its place")
	assert.EqualValues(t, 190, c.tanks[0].Litres, "it was weighed after that")
	hold(c, 15, 190-3)
	assert.Empty(t, said(c), "nothing is missing")

	c = cameAt(t)
	c.ToppedUp(c.now, 0, 5, c.now.Wall)
	assert.Empty(t, booked(c), "other water")
	hold(c, 15, 190-3+5)
	assert.Empty(t, said(c))
}

func TestATopUpWrittenDownLaterShowsWhatItHid(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	hold(c, 12, 178) // 20 L lost, 20 L poured in
	require.Empty(t, said(c))
	c.ToppedUp(c.now, 0, 20, hour(11))
	told := said(c)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "today: north: 14 L more than the plants can have drunk went")

	c = lossAt(t)
	c.ToppedUp(c.now, 0, 10, hour(11))
	assert.Empty(t, said(c), "it is told of already")
	assert.EqualValues(t, 32, c.tanks[0].Missing.Litres)

	c.ToppedUp(c.now, 0, 10, hour(3))
	assert.EqualValues(t, 32, c.tanks[0].Missing.Litres, "before the weighing before")
	assert.Zero(t, c.tanks[0].Noted)
}

func TestATopUpWrittenDownTooEarlyIsNoLoss(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 150)
	c.ToppedUp(c.now, 0, 40, c.now.Wall)
	hold(c, 12, 146)
	require.Len(t, said(c), 1)
	hold(c, 15, 183) // now it is poured in
	assert.Empty(t, said(c)[1:])
	assert.Equal(t, Undone, c.tanks[0].Missing.Answer)
	assert.Zero(t, c.tanks[0].Came)
}

func TestWhatIsTakenOutAndWrittenDownIsNotMissing(t *testing.T) {
	c := scales(t, nil)
	hold(c, 9, 180)
	c.ToppedUp(c.now, 0, -30, c.now.Wall)
	assert.Equal(t, Noted, c.tanks[0].Basis)
	assert.InDelta(t, 180-30, float64(c.tanks[0].Litres), 1)
	hold(c, 12, 180-4-30)
	assert.Empty(t, said(c))
}

func TestWithoutAWeighingNothingIsKnownOnceItIsDrawnFrom(t *testing.T) {
	c := scales(t, nil)
	c.Filled(c.now, 0, 200)
	require.Equal(t, Noted, c.tanks[0].Basis)
	c.now.Mono += time.Hour
	c.now.Wall = c.now.Wall.Add(time.Hour)
	c.benches[0].run.flood.ID++
	c.floodRan(0, &safety.BenchView{Started: c.now.Mono - 2, FullAt: c.now.Mono - 1, Stopped: c.now.Mono})
	st := c.reservoirStatus(0)
	assert.Equal(t, Unknown, st.Basis)
	assert.Zero(t, st.Litres)
	assert.EqualValues(t, 200, st.Had)
	assert.Equal(t, hour(9), st.HadAt.UTC())

	c = scales(t, nil)
	hold(c, 9, 180)
	for n := 0; c.tanks[0].Basis != Unknown; n++ {
		c.now.Mono, c.now.Wall = c.now.Mono+8*time.Hour, c.now.Wall.Add(8*time.Hour)
		c.floodRan(0, &safety.BenchView{Started: c.now.Mono - 2, FullAt: c.now.Mono - 1, Stopped: c.now.Mono, FullFor: 10 * time.Minute})
		require.Less(t, n, 60, "the fill passes the switch no more, and what is expected is worth less and less")
	}
}

func TestALeakBelowTheMarginIsToldOfOnceItHasAddedUp(t *testing.T) {
	c := scales(t, nil) // the margin is 3.5 L: a rise is told past 2.8 L, less 1.05 L a flood, what goes on past 7 L, less 0.35 L
	hold(c, 9, 180)
	at, litres, floods := 9.0, safety.Litres(180), 0
	for len(said(c)) == 0 {
		lacked := c.benches[0].run.lacked.Hottest
		at, litres, floods = at+3, litres-lacked-2, floods+1
		hold(c, at, litres)
		require.Less(t, floods, 10)
		if floods == 2 {
			again, err := Resume(c.setup, c.now, c.State("boot"), "boot")
			require.NoError(t, err)
			again.view, again.benches[0].run = c.view, c.benches[0].run
			c = again
		}
	}
	assert.Equal(t, 3, floods)
	assert.True(t, c.tanks[0].Missing.Asked())
	assert.InDelta(t, 6, float64(c.tanks[0].Missing.Litres), 0.01)
	assert.Zero(t, c.tanks[0].Loss.Floods, "it latches nothing")
	for range 6 {
		lacked := c.benches[0].run.lacked.Hottest
		at, litres = at+3, litres-lacked-2
		hold(c, at, litres)
	}
	assert.Empty(t, said(c), "it is known")
	assert.InDelta(t, 6+8.25, float64(c.tanks[0].Missing.Litres), 0.01, "and adds up")

	c = scales(t, nil)
	hold(c, 9, 180)
	for n := range 20 {
		lacked := c.benches[0].run.lacked.Hottest
		litres := c.tanks[0].Last.Litres - lacked - 0.3
		hold(c, float64(12+3*n), litres)
		require.Empty(t, said(c), "within what never ends on a healthy bench")
	}
}
