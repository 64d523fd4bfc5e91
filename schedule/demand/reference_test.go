package demand

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The totals are those of demand-seattle.py, which shares no code with this
// package; Penman–Monteith there keeps the constants that FAO-56 rounds.
func TestFourYearsOfSeattleAgreeWithAnIndependentComputation(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "demand-seattle.csv"))
	require.NoError(t, err)
	defer f.Close()
	seattle := Location{Latitude: 47.6, Altitude: 50, Coastal: true}
	records, err := seattle.ReadRecords(f)
	require.NoError(t, err)
	assert.Empty(t, records.Notes)
	require.Len(t, records.Days, 1461)

	penman := map[int]float64{}
	for _, d := range records.Days {
		b, err := seattle.Reference(d.Day)
		require.NoError(t, err)
		require.Equal(t, []Assumption{AssumedFromRange, AssumedDew, AssumedWind}, b.Assumed)
		penman[d.Date.Year()] += max(0, float64(b.ET))
	}
	for _, row := range table(t, "demand-seattle-totals") {
		year := int(number(t, row["year"]))
		assert.InEpsilon(t, number(t, row["penman_mm"]), penman[year], 0.005, "%d", year)
		t.Logf("%d: %.1f mm here, %s there", year, penman[year], row["penman_mm"])
	}
}

var summer = Day{YearDay: 180, Low: 16, High: 28, Humidity: Known[Percent](60), Wind: Known[MetresPerSecond](2), Light: Known[Megajoules](24)}

func et(t require.TestingT, p Location, d Day) float64 {
	b, err := p.Reference(d)
	require.NoError(t, err)
	return float64(b.ET)
}

func TestReferenceRisesWithLightWarmthWindAndDryness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Location{Latitude: rapid.Float64Range(0, 60).Draw(t, "latitude"), Altitude: 100}
		if rapid.Bool().Draw(t, "under cover") {
			p.Cover = 0.7
		}
		d := summer
		d.Low = Celsius(rapid.Float64Range(5, 20).Draw(t, "low"))
		d.High = d.Low + Celsius(rapid.Float64Range(2, 15).Draw(t, "range"))
		before := et(t, p, d)

		brighter, drier, windier := d, d, d
		brighter.Light = Known[Megajoules](28)
		drier.Humidity = Known[Percent](40)
		windier.Wind = Known[MetresPerSecond](3)
		assert.Greater(t, et(t, p, brighter), before)
		assert.Greater(t, et(t, p, drier), before)
		if p.Cover > 0 {
			assert.Equal(t, before, et(t, p, windier), "a cover keeps the wind out")
		}
		hotter := d
		hotter.Low, hotter.High = d.Low+3, d.High+3
		assert.Greater(t, et(t, p, hotter), before)
	})
}

func TestMissingReadingsAreTakenInOrderAndSaid(t *testing.T) {
	p := Location{Latitude: 50}
	all := Day{YearDay: 180, Low: 12, High: 24,
		Vapour: Known[Kilopascals](1.3), Dew: Known[Celsius](11), Driest: Known[Percent](45), Dampest: Known[Percent](95),
		Humidity: Known[Percent](70), Wind: Known[MetresPerSecond](1), Light: Known[Megajoules](20), Sunshine: Known[Hours](8)}
	drops := []struct {
		name    string
		drop    func(*Day)
		vapour  Kilopascals
		assumed []Assumption
	}{
		{"nothing", func(*Day) {}, 1.3, nil},
		{"vapour", func(d *Day) { d.Vapour = Optional[Kilopascals]{} }, Saturation(11), nil},
		{"dew", func(d *Day) { d.Dew = Optional[Celsius]{} }, VapourFromExtremes(12, 24, 45, 95), nil},
		{"driest", func(d *Day) { d.Driest = Optional[Percent]{} }, VapourFromMean(12, 24, 70), nil},
		{"mean", func(d *Day) { d.Humidity = Optional[Percent]{} }, VapourFromDampest(12, 95), nil},
		{"light", func(d *Day) { d.Light = Optional[Megajoules]{} }, VapourFromDampest(12, 95), []Assumption{AssumedFromSun}},
		{"sunshine", func(d *Day) { d.Sunshine = Optional[Hours]{} }, VapourFromDampest(12, 95), []Assumption{AssumedFromRange}},
		{"dampest", func(d *Day) { d.Dampest = Optional[Percent]{} }, Saturation(12), []Assumption{AssumedFromRange, AssumedDew}},
		{"wind", func(d *Day) { d.Wind = Optional[MetresPerSecond]{} }, Saturation(12), []Assumption{AssumedFromRange, AssumedDew, AssumedWind}},
	}
	for _, c := range drops { // one reading more is missing in each
		c.drop(&all)
		b, err := p.Reference(all)
		require.NoError(t, err, c.name)
		assert.InDelta(t, float64(c.vapour), float64(b.Vapour), 1e-12, c.name)
		assert.Equal(t, c.assumed, b.Assumed, c.name)
	}
}

func TestWeatherThatCannotBeIsRefusedWithTheRange(t *testing.T) {
	for name, c := range map[string]struct {
		location Location
		spoil    func(*Day)
		says     string
	}{
		"day of the year":    {Location{}, func(d *Day) { d.YearDay = 367 }, "write 1 to 366"},
		"latitude":           {Location{Latitude: 91}, func(*Day) {}, "between -90 and 90 °"},
		"altitude":           {Location{Altitude: 9000}, func(*Day) {}, "between -500 and 6000 m"},
		"cover":              {Location{Cover: 1.2}, func(*Day) {}, "between 5 and 100 %"},
		"too hot":            {Location{}, func(d *Day) { d.High = 61 }, "between -90 °C and 60 °C"},
		"not a number":       {Location{}, func(d *Day) { d.Low = Celsius(math.NaN()) }, "between -90 °C and 60 °C"},
		"reset thermometer":  {Location{}, func(d *Day) { d.High = 85 }, "after a reset"},
		"faulty line":        {Location{}, func(d *Day) { d.High = 127.94 }, "faulty line"},
		"low above high":     {Location{}, func(d *Day) { d.Low = 30 }, "exchange them"},
		"humidity":           {Location{}, func(d *Day) { d.Humidity = Known[Percent](101) }, "between 0 and 100 %"},
		"dew above high":     {Location{}, func(d *Day) { d.Dew = Known[Celsius](29) }, "dew point 29 °C"},
		"wind":               {Location{}, func(d *Day) { d.Wind = Known[MetresPerSecond](-1) }, "between 0 and 75 m/s"},
		"more than the sun":  {Location{}, func(d *Day) { d.Light = Known[Megajoules](34) }, "between 0 and 33.4 MJ/m²"},
		"longer than a day":  {Location{}, func(d *Day) { d.Sunshine = Known[Hours](13) }, "between 0 and 12.5 h"},
		"wetter than vapour": {Location{}, func(d *Day) { d.Vapour = Known[Kilopascals](4) }, "between 0 and 3.78 kPa"},
	} {
		t.Run(name, func(t *testing.T) {
			d := summer
			c.spoil(&d)
			_, err := c.location.Reference(d)
			assert.ErrorContains(t, err, c.says)
		})
	}
}

func TestPolarNightAndDayHaveAnAnswer(t *testing.T) {
	for name, c := range map[string]struct {
		yearDay  int
		daylight float64
	}{"night": {355, 0}, "day": {172, 24}} {
		t.Run(name, func(t *testing.T) {
			b, err := Location{Latitude: 70}.Reference(Day{YearDay: c.yearDay, Low: 1, High: 6})
			require.NoError(t, err)
			assert.Equal(t, c.daylight, float64(b.Daylight))
			assert.False(t, math.IsNaN(float64(b.ET)))
			assert.Less(t, math.Abs(float64(b.ET)), 6.0)
		})
	}
}

func TestLightHoursOfNoFluxNeverEnd(t *testing.T) {
	assert.True(t, math.IsInf(float64(LightHours(10, 0)), 1))
	assert.InDelta(t, 41, MolesFromLight(20), 1e-9)
}
