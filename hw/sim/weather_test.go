package sim_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/sim"
	"benchtide/schedule/demand"
)

// yearOf is the use of every day of a year under glass at 50° north, L/m².
func yearOf(c sim.Climate) []float64 {
	d := days(c, 3)
	use := make([]float64, 365)
	for n := range use {
		from := time.Duration(n) * 24 * time.Hour
		use[n] = d.Use(from, from+24*time.Hour)
	}
	return use
}

func days(c sim.Climate, seed uint64) *sim.Days {
	return &sim.Days{
		Climate: c, Location: sim.Glasshouse, Seed: seed, First: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC),
		Line: func(time.Month) demand.Line { return sim.GlasshouseLine },
	}
}

func TestPlantsUseWhatDemandWorksOutForEachDayWithinItsScatter(t *testing.T) {
	mild, hot := yearOf(sim.Mild), yearOf(sim.Hot)
	sum := func(use []float64) (s float64) {
		for _, u := range use {
			s += u
		}
		return s
	}
	for n := range mild {
		c, err := sim.GlasshouseLine.Climate(sim.Glasshouse, n+1)
		require.NoError(t, err)
		assert.GreaterOrEqual(t, mild[n], 0.9*float64(c.Mild.Reference)-1e-9, "day %d", n+1)
		assert.LessOrEqual(t, hot[n], 1.1*float64(c.Hottest.Reference)+1e-9, "day %d", n+1)
	}
	assert.Less(t, 1.3*sum(mild), sum(hot))
	normal := sum(yearOf(sim.Normal))
	assert.Less(t, sum(mild), normal)
	assert.Less(t, normal, sum(hot))
	assert.NotEqual(t, yearOf(sim.Normal)[100], days(sim.Normal, 4).Use(100*24*time.Hour, 101*24*time.Hour))
}

func TestUseOfADayIsTheSumOfItsHours(t *testing.T) {
	d := days(sim.Normal, 9)
	d.Offset = 7 * time.Hour
	var sum float64
	for h := range 48 {
		sum += d.Use(time.Duration(h)*time.Hour, time.Duration(h+1)*time.Hour)
	}
	assert.InEpsilon(t, d.Use(0, 48*time.Hour), sum, 1e-12)
}

func TestWeatherOnRecordIsThatOfItsDateOrOfTheNearestInTheYear(t *testing.T) {
	const table = "date,low_c,high_c,humidity_pct,light_mj_per_m2\n2025-06-01,12,24,60,20\n2025-06-02,14,30,40,26\n"
	records, err := sim.Glasshouse.ReadRecords(strings.NewReader(table))
	require.NoError(t, err)
	use := func(first time.Time) float64 {
		r := sim.Recorded{Records: records, Location: sim.Glasshouse, First: first}
		return r.Use(0, 24*time.Hour)
	}
	for i, want := range records.Days {
		b, err := sim.Glasshouse.Reference(want.Day)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(b.ET), use(want.Date), 1e-9)
		assert.InEpsilon(t, float64(b.ET), use(want.Date.AddDate(1, 0, 0)), 1e-9, "a year on")
		assert.InEpsilon(t, float64(b.ET), use(want.Date.AddDate(0, 0, 100*(2*i-1))), 1e-9, "far from any")
	}
	c := oneBench()
	c.Weather = &sim.Recorded{}
	_, err = sim.New(c)
	assert.ErrorContains(t, err, "no days on record")
}

func TestWeatherThatCannotBeIsRefused(t *testing.T) {
	c, d := oneBench(), days(sim.Normal, 1)
	d.Line = func(time.Month) demand.Line { l := sim.GlasshouseLine; l.Highs.Most = 85; return l }
	c.Weather = d
	_, err := sim.New(c)
	assert.ErrorContains(t, err, "weather of January")
}

func TestNormalWeatherKeepsTheSolutionBetween12And26Degrees(t *testing.T) {
	for _, c := range []sim.Climate{sim.Mild, sim.Normal, sim.Hot} {
		d := days(c, 5)
		for h := range 200 * 24 {
			x := d.Solution(time.Duration(h) * time.Hour)
			require.True(t, x > 12 && x < 26, "%g °C at hour %d", x, h)
		}
	}
}
