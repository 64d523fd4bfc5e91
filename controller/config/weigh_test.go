package config

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// exampleWith is the example with its low switch replaced.
func exampleWith(t *testing.T, sw string) (*Site, Problems) {
	t.Helper()
	const was = "low_switch: {line: GPIO23, at: 155 L, water: closes}"
	require.Contains(t, string(Example), was)
	return Parse("bench.yaml", []byte(strings.Replace(string(Example), was, sw, 1)))
}

func TestCheckSaysWhetherABenchWeighsItselfAndWhereItWould(t *testing.T) {
	for name, c := range map[string]struct {
		sw     string
		weighs bool
		at     float64 // 0: nothing is proposed
		words  string
	}{
		"a low switch that each fill passes":  {"low_switch: {line: GPIO23, at: 155 L, water: closes}", true, 0, "each fill passes the low_switch while it holds 155 L to 200 L"},
		"no switch":                           {"", false, 161, "there is no switch that its fills pass; it would with a low_switch at about 161 L"},
		"a float that only weighs":            {"low_switch: {line: GPIO23, at: 101 L, water: closes}\n    level_switch: {line: GPIO17, at: 160 L, water: closes}", true, 0, "passes the level_switch"},
		"one that is too low":                 {"low_switch: {line: GPIO23, at: 110 L, water: closes}", false, 161, "only from 165 L down does it weigh; it would with a level_switch, which weighs and forbids nothing, at about 161 L"},
		"a level switch below what it passes": {"level_switch: {line: GPIO17, at: 60 L, water: closes}", false, 161, "it would with the level_switch at about 161 L"},
	} {
		site, problems := exampleWith(t, c.sw)
		require.NoError(t, problems.Err(), name)
		w := site.Weighing(0)
		assert.Equal(t, c.weighs, w.Weighs, "%s: %+v", name, w)
		assert.Contains(t, w.Words, c.words, name)
		switch {
		case c.at == 0:
			assert.Nil(t, w.At, name)
		default:
			require.NotNil(t, w.At, name)
			assert.InDelta(t, c.at, float64(*w.At), 1, name)
			fits, problems := exampleWith(t, "low_switch: {line: GPIO23, at: 155 L, water: closes}\n    level_switch: {line: GPIO17, at: "+litres(*w.At)+", water: closes}")
			require.NoError(t, problems.Err(), name)
			assert.True(t, fits.Weighing(0).Weighs, "%s: what is proposed does", name)
		}
	}
}

func TestTheBandOfAFloatIsRead(t *testing.T) {
	site, problems := exampleWith(t, "low_switch: {line: GPIO23, at: 155 L, water: closes, band: 6 mm}")
	require.NoError(t, problems.Err())
	assert.EqualValues(t, 0.006, site.Reservoirs[0].LowBand)
	site, _ = exampleWith(t, "low_switch: {line: GPIO23, at: 155 L, water: closes}")
	assert.Zero(t, site.Reservoirs[0].LowBand)
	for _, band := range []string{"0 mm", "60 mm", "6 cm", "-2 mm", "much"} {
		_, problems := exampleWith(t, "low_switch: {line: GPIO23, at: 155 L, water: closes, band: "+band+"}")
		require.Error(t, problems.Err(), band)
	}
}
