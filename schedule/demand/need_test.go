package demand

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// basil is 96 pots of 9 cm with 0.35 L of peat, 83 on a square metre.
func basil(t require.TestingT) Batch {
	return Batch{Pots: 96, Pot: pot(t, 0.35, 0.87), Space: 0.012, Crop: LeafyYoung}
}

var (
	greenhouse = Location{Latitude: 53.2, Altitude: 80, Cover: 0.7}
	school     = Line{Lows: Span[Celsius]{10, 18}, Highs: Span[Celsius]{18, 34}, Humidity: Span[Percent]{40, 85}, Light: Span[Megajoules]{4, 27}}
)

func TestNeedGrowsWithAgeAndWeather(t *testing.T) {
	climate, err := school.Climate(greenhouse, 172)
	require.NoError(t, err)
	var last Litres
	for _, age := range []int{0, 10, 24, 42} {
		needs := make([]Need, 3)
		for i, w := range []Weather{climate.Mild, climate.Normal, climate.Hottest} {
			needs[i], err = basil(t).Need(age, 8*time.Minute, w)
			require.NoError(t, err)
		}
		mild, normal, hottest := needs[0], needs[1], needs[2]
		assert.Greater(t, normal.Litres, last)
		assert.Less(t, mild.PerPot, normal.PerPot)
		assert.Less(t, normal.PerPot, hottest.PerPot)
		assert.Greater(t, mild.Lasts, hottest.Lasts)
		assert.LessOrEqual(t, mild.Floods, hottest.Floods)
		assert.LessOrEqual(t, hottest.CanWait, hottest.Lasts)
		t.Logf("day %2d: mild %s; normal %s; hottest %s", age, line(mild), line(normal), line(hottest))
		last = normal.Litres
	}
}

func line(n Need) string {
	return fmt.Sprintf("%.1f mm, %.1f L, lasts %v, %d a day, can wait %v",
		n.Reference, n.Litres, n.Lasts.Round(time.Hour), n.Floods, n.CanWait.Round(time.Hour))
}

// kept says whether floods that Need names, run as a course, keep the pot above
// its threshold from the tenth day on.
func kept(b Batch, n Need, floods int, contact time.Duration) bool {
	return keptEvery(1, b, n, floods, contact)
}

// keptEvery is kept where the floods come on every so-many-th day alone.
func keptEvery(every int, b Batch, n Need, floods int, contact time.Duration) bool {
	var at []Flood
	days := 40 * every
	s := steady{shine: n.Shine, floods: floods}
	for d := 0; d < days; d += every {
		for i := range floods {
			at = append(at, Flood{time.Duration(d)*day + s.at(i), contact})
		}
	}
	wants := make([]Litres, days)
	for d := range wants {
		wants[d] = n.PerPot
	}
	for _, p := range b.Pot.Course(b.Pot.Holds(), wants, n.Shine, at) {
		if p.At > time.Duration(10*every)*day && float64(p.Water) < float64(b.Pot.Threshold())*(1-1e-6) {
			return false
		}
	}
	return true
}

func TestFloodsNamedAreTheFewestThatKeepAPotAboveItsThreshold(t *testing.T) {
	seen := map[int]bool{}
	rapid.Check(t, func(t *rapid.T) {
		b := basil(t)
		b.Space = SquareMetres(rapid.Float64Range(0.01, 0.1).Draw(t, "space"))
		contact := time.Duration(rapid.IntRange(2, 15).Draw(t, "contact")) * time.Minute
		w := Weather{Millimetres(rapid.Float64Range(0.5, 9).Draw(t, "et")), ShineFor(Hours(rapid.Float64Range(6, 18).Draw(t, "light")))}
		n, err := b.Need(rapid.IntRange(0, 60).Draw(t, "age"), contact, w)
		require.NoError(t, err)
		seen[n.Floods] = true
		if n.Floods > 0 {
			assert.True(t, kept(b, n, n.Floods, contact))
		}
		if n.Floods > 1 {
			assert.False(t, kept(b, n, n.Floods-1, contact))
		}
	})
	assert.True(t, seen[1] && seen[2] && len(seen) > 3, "%v", seen)
}

// One flood on every so-many-th day keeps a pot above its threshold as far as Need
// says, and one day more between them does not, up to the most that it speaks of.
func TestDaysThatMayBeLeftOutAreTheMostThatKeepAPot(t *testing.T) {
	seen := map[int]int{}
	rapid.Check(t, func(t *rapid.T) {
		b := basil(t)
		b.Space = SquareMetres(rapid.Float64Range(0.005, 0.05).Draw(t, "space"))
		contact := time.Duration(rapid.IntRange(120, 900).Draw(t, "contact")) * time.Second
		w := Weather{Reference: Millimetres(rapid.Float64Range(0.3, 6).Draw(t, "reference")), Shine: ShineFor(Hours(rapid.Float64Range(7, 16).Draw(t, "light")))}
		n, err := b.Need(rapid.IntRange(0, 60).Draw(t, "age"), contact, w)
		require.NoError(t, err)
		seen[n.Every]++
		if n.Floods != 1 {
			require.Equal(t, 1, n.Every)
			return
		}
		require.True(t, keptEvery(n.Every, b, n, 1, contact), "every %d", n.Every)
		if n.Every < Seldomest {
			require.False(t, keptEvery(n.Every+1, b, n, 1, contact), "every %d", n.Every+1)
		}
	})
	require.Len(t, seen, Seldomest, "%v", seen)
}

func TestAPotLeftAloneReachesItsThresholdWhenItCannotWaitAnyLonger(t *testing.T) {
	b := basil(t)
	const contact = 30 * time.Minute // pots fill
	w := Weather{5, Shine{6 * time.Hour, 20 * time.Hour}}
	n, err := b.Need(42, contact, w)
	require.NoError(t, err)
	require.Equal(t, 1, n.Floods)
	noon := 13 * time.Hour
	points := b.Pot.Course(b.Pot.Holds(), []Litres{n.PerPot, n.PerPot, n.PerPot, n.PerPot}, w.Shine, []Flood{{noon, contact}})
	var crossed time.Duration
	for _, p := range points {
		if p.At > noon && p.Water <= b.Pot.Threshold() {
			crossed = p.At
			break
		}
	}
	require.NotZero(t, crossed)
	assert.LessOrEqual(t, n.CanWait, crossed-noon)
	assert.Greater(t, n.CanWait, (crossed-noon)/2)
}

func TestTooShortAContactIsToldByNoNumberOfFloods(t *testing.T) {
	b := basil(t)
	b.Space = 0.1
	n, err := b.Need(60, 5*time.Second, Weather{8, ShineFor(14)})
	require.NoError(t, err)
	assert.Zero(t, n.Floods)
	assert.Zero(t, n.CanWait)

	n, err = b.Need(60, 0, Weather{8, ShineFor(14)})
	require.NoError(t, err)
	assert.Zero(t, n.Floods)
}

func TestPlantsThatUseNothingWaitAsLongAsIsSaidOfAny(t *testing.T) {
	n, err := basil(t).Need(0, 5*time.Minute, Weather{-0.3, ShineFor(0)})
	require.NoError(t, err)
	assert.Zero(t, n.PerPot)
	assert.Equal(t, 1, n.Floods)
	assert.Greater(t, n.CanWait.Hours(), (longest-2)*day.Hours())
	assert.Equal(t, n.CanWait, n.Lasts)
}

func TestBatchesThatCannotBeAreRefused(t *testing.T) {
	for name, c := range map[string]func(*Batch, *Weather){
		"no crop":     func(b *Batch, _ *Weather) { b.Crop = nil },
		"scale":       func(b *Batch, _ *Weather) { b.Scale = 10 },
		"no space":    func(b *Batch, _ *Weather) { b.Space = 0 },
		"pots":        func(b *Batch, _ *Weather) { b.Pots = -1 },
		"drinks":      func(b *Batch, _ *Weather) { b.Pot.Drinks = 0 },
		"hard":        func(b *Batch, _ *Weather) { b.Pot.Hard = 0.8 },
		"easy":        func(b *Batch, _ *Weather) { b.Pot.Easy = 0.9 },
		"weather":     func(_ *Batch, w *Weather) { w.Reference = 30 },
		"light":       func(_ *Batch, w *Weather) { w.Shine.Set = 0 },
		"longer days": func(_ *Batch, w *Weather) { w.Shine.Set = 40 * time.Hour },
	} {
		t.Run(name, func(t *testing.T) {
			b, w := basil(t), Weather{4, ShineFor(12)}
			c(&b, &w)
			_, err := b.Need(10, time.Minute, w)
			assert.Error(t, err)
		})
	}
}

// Common practice, no source: seedlings use a small part of a full canopy, and
// the ground is covered after some six weeks.
func TestCanopyGrowsFromAThirdAtMostToItsFullFactor(t *testing.T) {
	assert.Less(t, LeafyYoung.Factor(0), 0.34)
	assert.InDelta(t, 1, LeafyYoung.Factor(42), 1e-12)
	for age := range 60 {
		assert.LessOrEqual(t, LeafyYoung.Factor(age), LeafyYoung.Factor(age+1))
	}
}

func TestReservoirEndsBeforeItIsEmpty(t *testing.T) {
	assert.InDelta(t, 6, ReservoirDays(150, 90, 10), 1e-12)
	assert.Zero(t, ReservoirDays(90, 90, 10))
	assert.Greater(t, ReservoirDays(91, 90, 0), 1e300)
}

func TestClimateOfALineRefusesWhatCannotBe(t *testing.T) {
	turned := school
	turned.Light = Span[Megajoules]{20, 4}
	_, err := turned.Climate(greenhouse, 100)
	assert.ErrorContains(t, err, "least to its most")
	hot := school
	hot.Highs.Most = 85
	_, err = hot.Climate(greenhouse, 100)
	assert.ErrorContains(t, err, "after a reset")
	_, err = Records{}.Climate(Location{})
	assert.ErrorContains(t, err, "no days")
	_, err = Records{Days: []Record{{Day: Day{YearDay: 400}}}}.Climate(Location{})
	assert.Error(t, err)
}

func TestWhatWasReallyUsedScalesTheForecast(t *testing.T) {
	b, w := basil(t), Weather{4, ShineFor(14)}
	before, err := b.Need(20, 8*time.Minute, w)
	require.NoError(t, err)
	b.Scale, err = Learn(before.Litres*1.5, before.Litres)
	require.NoError(t, err)
	after, err := b.Need(20, 8*time.Minute, w)
	require.NoError(t, err)
	assert.InEpsilon(t, 1.5*float64(before.Litres), float64(after.Litres), 1e-9)

	_, err = Learn(40, 10)
	assert.ErrorContains(t, err, "look for a leak")
	_, err = Learn(1, 10)
	assert.Error(t, err)
	_, err = Learn(1, 0)
	assert.Error(t, err)
}

// peakSupply is what growers size their water for on the hottest day of a full
// greenhouse: 0.3 to 0.4 US gallons a square foot (UMass Extension, sizing the
// greenhouse water system). That is about twice what light can evaporate under
// glass, so that it must allow for runoff too: a ceiling for any forecast.
var peakSupply = Span[Millimetres]{12.2, 16.3}

func TestNoForecastPassesWhatGrowersSizeTheirWaterFor(t *testing.T) {
	const perSquareFoot = 3.785411784 / (0.3048 * 0.3048)
	assert.InDelta(t, 0.3*perSquareFoot, float64(peakSupply.Least), 0.05)
	assert.InDelta(t, 0.4*perSquareFoot, float64(peakSupply.Most), 0.05)
	blazing := Line{Lows: Span[Celsius]{20, 25}, Highs: Span[Celsius]{30, 42}, Humidity: Span[Percent]{20, 50}, Light: Span[Megajoules]{20, 32}}
	for _, latitude := range []float64{0, 20, 40, 60} {
		c, err := blazing.Climate(Location{Latitude: latitude, Cover: 0.9}, 172)
		require.NoError(t, err)
		assert.Less(t, c.Hottest.Reference, peakSupply.Least)
		assert.Greater(t, c.Hottest.Reference, peakSupply.Least/2)
	}
}

func TestNoDayOfAClimateIsBrighterThanAClearSky(t *testing.T) {
	winter, err := school.Climate(greenhouse, 355)
	require.NoError(t, err)
	june, err := school.Climate(greenhouse, 172)
	require.NoError(t, err)
	assert.Less(t, winter.Hottest.Reference, june.Hottest.Reference)
	assert.Less(t, winter.Hottest.Shine.length(), 8*time.Hour)
}
