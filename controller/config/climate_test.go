package config_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/schedule/demand"
)

// withClimate is the example with a climate in its site.
func withClimate(climate string) string {
	return strings.Replace(string(config.Example), "floor: drained", "floor: drained, climate: "+climate, 1)
}

const julyLine = "{lows: 54 to 64 F, highs: 22 to 33.5 C, humidity: 40 to 80 %, light: 8 to 27 MJ/m2}"

func TestOneClimateLineStandsForEveryMonth(t *testing.T) {
	s := mustParse(t, withClimate("{lows: 10 C to 18 C, highs: 18 to 34 C, humidity: 40 to 85 %, light: 10 to 50 mol/m2, cover: 60 %}"))
	c, p, assumed := s.Weather()
	assert.Empty(t, assumed)
	assert.Equal(t, demand.Cover(0.6), p.Cover)
	assert.InDelta(t, 53.2, p.Latitude, 1e-12)
	for m := time.January; m <= time.December; m++ {
		l := c.Line(m)
		assert.Equal(t, demand.Span[demand.Celsius]{Least: 10, Most: 18}, l.Lows)
		assert.Equal(t, demand.Span[demand.Percent]{Least: 40, Most: 85}, l.Humidity)
		assert.InDelta(t, 10, demand.MolesFromLight(l.Light.Least), 1e-9)
	}
}

func TestAMonthWithoutALineHasThatOfTheOneBefore(t *testing.T) {
	s := mustParse(t, withClimate("{months: {July: "+julyLine+", march: {lows: 6 C, highs: 15 C, humidity: 70 %, light: 9 MJ/m²}}}"))
	c, _, _ := s.Weather()
	for m := time.January; m <= time.December; m++ {
		want := demand.Celsius(6)
		if m >= time.July || m < time.March {
			want = (54 - 32) / 1.8
		}
		assert.InDelta(t, float64(want), float64(c.Line(m).Lows.Least), 1e-9, m)
	}
}

func TestAClimateThatIsNotGivenIsAssumedAndSaid(t *testing.T) {
	text := strings.Replace(string(config.Example), "latitude: 53.2, longitude: -7.1, ", "", 1)
	_, p, assumed := mustParse(t, text).Weather()
	assert.Len(t, assumed, 2)
	assert.InDelta(t, 0.7, float64(p.Cover), 1e-12)
}

func TestClimatesThatCannotBeAreRefused(t *testing.T) {
	for name, c := range map[string]struct{ climate, want string }{
		"turned":      {strings.Replace(julyLine, "22 to 33.5", "33.5 to 22", 1), `site.climate.highs: "33.5 to 22 C": write the lower end first`},
		"no unit":     {strings.Replace(julyLine, "40 to 80 %", "40 to 80", 1), "needs a unit"},
		"light":       {strings.Replace(julyLine, "MJ/m2", "lux", 1), "write the light of a day like 20 MJ/m2"},
		"missing":     {"{lows: 10 C}", "site.climate.highs: missing"},
		"false value": {strings.Replace(julyLine, "33.5", "85", 1), "what a thermometer shows after a reset"},
		"crossed":     {strings.Replace(julyLine, "54 to 64 F", "30 to 34 C", 1), "exchange them"},
		"cover":       {strings.Replace(julyLine, "{", "{cover: 2 %, ", 1), "write a share from 5 % to 100 %"},
		"month":       {"{months: {mai: " + julyLine + "}}", `month "mai"`},
		"both":        {"{lows: 10 C, months: {may: " + julyLine + "}}", "beside months"},
	} {
		t.Run(name, func(t *testing.T) {
			_, problems := config.Parse("bench.yaml", []byte(withClimate(c.climate)))
			assert.ErrorContains(t, problems.Err(), c.want)
		})
	}
}

func TestPlantsShareTheirBenchUnlessTheFileSaysHowFarTheySpread(t *testing.T) {
	s := mustParse(t, string(config.Example))
	assert.InDelta(t, 2.4*1.2/96, float64(s.Space(0)), 1e-12)

	few := mustParse(t, strings.Replace(string(config.Example), "pots: 96", "pots: 40", 1))
	assert.InDelta(t, 0.225*0.225, float64(few.Space(0)), 1e-12, "no wider than two and a half pots")

	told := mustParse(t, strings.Replace(string(config.Example), "pots: 96", "pots: 96, spread: 12 cm, crop: tomato, covered_on_day: 30", 1))
	assert.InDelta(t, 0.0144, float64(told.Space(0)), 1e-12)
	b, err := told.Demand(0)
	require.NoError(t, err)
	assert.Equal(t, 96, b.Pots)
	assert.InDelta(t, demand.FullGrown["tomato"], b.Crop.Factor(30), 1e-12)
	assert.Less(t, b.Crop.Factor(29), b.Crop.Factor(30))

	_, problems := config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), "pots: 96", "pots: 96, crop: tomatoe", 1)))
	assert.ErrorContains(t, problems.Err(), "did you mean tomato?")
}

func TestABatchWaitsForAPersonsWordOnlyWhereTheFileSaysSo(t *testing.T) {
	advance := func(how string) (*config.Site, config.Problems) {
		return config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), "pots: 96", "advance: "+how+", pots: 96", 1)))
	}
	assert.False(t, mustParse(t, string(config.Example)).Batches[0].Asked)
	for how, want := range map[string]bool{"auto": false, "asked": true} {
		site, problems := advance(how)
		require.NoError(t, problems.Err())
		assert.Equal(t, want, site.Batches[0].Asked)
	}
	_, problems := advance("never")
	assert.ErrorContains(t, problems.Err(), `"never": write auto or asked`)
}

func TestBatchesThatStandTogetherShareTheirBench(t *testing.T) {
	const late = `
  - {name: late, plan: basil, bench: north, transplanted: 2026-04-01, pots: 24, pot: {top: 9 cm, volume: 0.35 L}}`
	s := mustParse(t, string(config.Example)+late[1:]+"\n")
	assert.InDelta(t, 2.4*1.2/120, float64(s.Space(0)), 1e-12)
	assert.InDelta(t, 2.4*1.2/120, float64(s.Space(1)), 1e-12)
	gone := strings.Replace(string(config.Example), "pots: 96", "closed: 2026-03-31, pots: 96", 1) + late[1:] + "\n"
	s = mustParse(t, gone)
	assert.InDelta(t, 2.4*1.2/96, float64(s.Space(0)), 1e-12)
}
