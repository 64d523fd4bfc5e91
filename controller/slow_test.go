package controller

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

// pairs has a bench's pairs of weighings show so much more than the plants can have
// drunk, three hours apart, and returns by which of them a person is told; 0 when
// nobody is.
func pairs(c *Controller, over ...safety.Litres) (told int) {
	for i, l := range over {
		by := len(c.benches) - 1 // on a shared reservoir the other bench weighs
		c.shows(0, by, l)
		if told == 0 && len(said(c)) > 0 {
			told = i + 1
		}
	}
	return told
}

// shows has a pair of bench b that bench by weighed show so much.
func (c *Controller) shows(b, by int, over safety.Litres) {
	from := c.now.Wall
	c.now.Wall, c.now.Mono = from.Add(3*time.Hour), c.now.Mono+3*time.Hour
	c.judge(b, by, stretch{Over: over, Hours: 3, Bench: c.name(b), From: from}, c.now.Wall)
}

func TestALeakThatBeginsIsToldWithItsSecondPair(t *testing.T) {
	// One pair of 70 L may err by 3.5 L.
	for name, p := range map[string]struct {
		over []safety.Litres
		told int
	}{
		"a leak":                             {[]safety.Litres{-2, -3, -2.5, -3, 2, 1.5}, 6},
		"one pair alone":                     {[]safety.Litres{-2, -3, -2.5, -3, 3.4, -3, -3, -3}, 0},
		"what plants can drink":              {[]safety.Litres{-9, -9, -9, -9, -1, -0.5, -1, -0.5, -1, -0.5}, 0},
		"hardly more than they can drink":    {[]safety.Litres{-3, -3, -3, -3, -3, -3, 0.2, 0.2, 0.2}, 0},
		"what was always so":                 {[]safety.Litres{0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3}, 0},
		"a leak before anything is usual":    {[]safety.Litres{2.6, 2.6}, 2},
		"one that grows by little each time": {[]safety.Litres{0, 0.3, 0.6, 0.9, 1.2, 1.5, 1.8, 2.1, 2.4}, 9},
	} {
		assert.Equal(t, p.told, pairs(scales(t, nil), p.over...), name)
	}
}

func TestASmallLeakIsToldWithItsLitresAndOnceAMonth(t *testing.T) {
	c := scales(t, nil)
	pairs(c, -2, -3, -2.5, -3)
	c.shows(0, 0, 2)
	c.shows(0, 0, 1.5)
	told := said(c)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "today: north: 4 L more than the plants can have drunk went little by little in 2 floods since Mon 2 Mar 21:00.")
	for range 40 {
		c.shows(0, 0, 1.5)
	}
	assert.Empty(t, said(c), "known for less than a month")
	assert.Greater(t, c.tanks[0].Missing.Litres, safety.Litres(40), "its litres add up where they are shown")
	_, first, err := c.TookOut(c.now, 0, 0, "Ann")
	require.NoError(t, err)
	assert.True(t, first)
	assert.Equal(t, slow{}, c.benches[0].slow)
	assert.Zero(t, c.tanks[0].Slow)
}

// shared are scales of a reservoir that two benches draw on.
func shared(t *testing.T) *Controller {
	c := scales(t, func(s *Setup) {
		two := testSetup(2, 48*time.Hour, "09:00", "12:00", "15:00")
		two.Draw, two.Drunk = s.Draw, s.Drunk
		*s = two
	})
	c.view.Benches = make([]safety.BenchView, 2)
	return c
}

// What is usual of pairs that another bench ends is learnt of those, and holds for no
// others. One pair of 70 L may err by 5.6 L here.
func TestWhatIsUsualIsOfThePairsThatABenchEnds(t *testing.T) {
	c := shared(t)
	require.Zero(t, pairs(c, -3, -3, -3, -3, -3, -3, -3))
	for range 3 {
		c.shows(0, 0, 0.5)
	}
	require.Empty(t, said(c))
	assert.Equal(t, 3, pairs(c, 1.5, 1.5, 1.5, 1.5))
}

// What two benches weigh differs by 3 L, to and fro.
func TestBenchesThatWeighDifferentlyLoseNothing(t *testing.T) {
	c := shared(t)
	for range 60 {
		c.shows(0, 1, 1.4)
		c.shows(1, 0, -1.6)
	}
	assert.Empty(t, said(c))
	told := 0
	for n := 1; told == 0 && n < 10; n++ {
		c.shows(0, 1, 1.4+4)
		c.shows(1, 0, -1.6)
		if len(said(c)) > 0 {
			told = n
		}
	}
	assert.Equal(t, 2, told, "the leak of one of them")
}

func TestWhatIsUsualOutlastsARestart(t *testing.T) {
	c := scales(t, nil)
	pairs(c, -2, -3, -2.5, -3)
	st := c.State("boot")
	kept := append([]usual(nil), st.Benches["north"].Usual...)
	pairs(c, -3)
	assert.Equal(t, kept, st.Benches["north"].Usual, "what is stored is not changed any more")
	again, err := Resume(c.setup, c.now, st, "boot")
	require.NoError(t, err)
	again.view = c.view
	said(again)
	assert.Equal(t, 2, pairs(again, 2, 1.5))
}

// A loss is told again a month after it was told, not a month after it began.
func TestASlowLossIsToldAgainAMonthAfterItsWord(t *testing.T) {
	c := scales(t, nil)
	began := c.now.Wall
	var told []time.Time
	for c.now.Wall.Sub(began) < 60*24*time.Hour {
		c.shows(0, 0, 0.45)
		if words := said(c); len(words) > 0 {
			told = append(told, c.now.Wall)
			if len(told) == 1 {
				assert.Contains(t, words[0], fmt.Sprintf("little by little in %d floods since", int(c.now.Wall.Sub(began)/(3*time.Hour))))
			}
		}
	}
	require.GreaterOrEqual(t, len(told), 2)
	require.Greater(t, told[0].Sub(began), 5*24*time.Hour, "it adds up for days")
	assert.GreaterOrEqual(t, told[1].Sub(told[0]), 30*24*time.Hour)
}

// A pair that stands out moves what is usual by a part of the margin, and less where it
// shows more: that may be a leak.
func TestAPairThatStandsOutMovesWhatIsUsualByLittle(t *testing.T) {
	for out, moved := range map[safety.Litres]safety.Litres{0.5: 0.25, 20: 0.875, -20: -1.75} {
		c := scales(t, nil)
		c.learn(0, 0, 0, 3.5)
		c.learn(0, 0, out, 3.5)
		assert.InDelta(t, float64(moved), float64(c.benches[0].usual[0].Over), 1e-9, "%v L", out)
	}
	c := scales(t, nil)
	c.learn(0, 0, -20, 3.5)
	assert.InDelta(t, -3.5, float64(c.benches[0].usual[0].Over), 1e-9, "nor does the first begin far below")
}

// What a pair may err by is of the bench that flooded, whoever weighed after it.
func TestALargeBenchMayErrByMoreThanTheOneThatWeighs(t *testing.T) {
	c := shared(t)
	c.setup.Limits.Benches[1].Flood = 20
	assert.Zero(t, pairs(c, 1, 1, 1, 1, 1, 1, 1, 1))
}
