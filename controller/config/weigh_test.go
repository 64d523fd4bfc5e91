package config

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/quantity"
)

// exampleWith is the example with its low switch replaced.
func exampleWith(t *testing.T, usable, sw string) (*Site, Problems) {
	t.Helper()
	const low, holds = "low_switch: {line: GPIO23, at: 155 L, water: closes}", "usable: 200 L"
	require.Contains(t, string(Example), low)
	require.Contains(t, string(Example), holds)
	return Parse("bench.yaml", []byte(strings.NewReplacer(low, sw, holds, "usable: "+usable).Replace(string(Example))))
}

func TestCheckSaysWhetherABenchWeighsItselfAndWhereItWould(t *testing.T) {
	const low, level = "low_switch: {line: GPIO23, at: %s, water: closes}", "level_switch: {line: GPIO17, at: %s, water: closes}"
	for name, c := range map[string]struct {
		usable, low, level string
		weighs             bool
		at                 float64 // 0: nothing is proposed
		words              string
	}{
		"a low switch that each fill passes":  {"200 L", "155 L", "", true, 0, "each fill passes the low_switch while it holds 155 to 200 L"},
		"no switch":                           {"200 L", "", "", false, 155, "there is no switch that its fills pass; it would with a low_switch at about 155 L"},
		"no switch, a small tank":             {"160 L", "", "", false, 113, "it would with a level_switch, which weighs and forbids nothing, at about 113 L"},
		"a float that only weighs":            {"400 L", "155 L", "360 L", true, 0, "passes the level_switch while it holds 360 to 400 L"},
		"one that is too low":                 {"400 L", "155 L", "", false, 353, "ends above the low_switch at 155 L: only from 222 L down does it weigh; it would with a level_switch, which weighs and forbids nothing, at about 353 L"},
		"a level switch below what it passes": {"400 L", "", "100 L", false, 353, "it would with the level_switch at about 353 L"},
	} {
		wired := func(low0, level0 string) (sw string) {
			for _, s := range [][2]string{{low, low0}, {level, level0}} {
				if s[1] != "" {
					sw += strings.Replace(s[0], "%s", s[1], 1) + "\n    "
				}
			}
			return sw
		}
		site, problems := exampleWith(t, c.usable, wired(c.low, c.level))
		require.NoError(t, problems.Err(), name)
		w := site.Weighing(0)
		assert.Equal(t, c.weighs, w.Weighs, "%s: %+v", name, w)
		assert.Contains(t, w.Words, c.words, name)
		if c.at == 0 {
			assert.Nil(t, w.At, name)
			continue
		}
		require.NotNil(t, w.At, name)
		assert.InDelta(t, c.at, float64(*w.At), 1, name)
		fits, problems := exampleWith(t, c.usable, wired(c.low, quantity.In(*w.At, quantity.Litre)))
		require.NoError(t, problems.Err(), name)
		assert.True(t, fits.Weighing(0).Weighs, "%s: what is proposed does", name)
	}
}

func TestTheBandOfAFloatIsRead(t *testing.T) {
	site, problems := exampleWith(t, "200 L", "low_switch: {line: GPIO23, at: 155 L, water: closes, band: 6 mm}")
	require.NoError(t, problems.Err())
	assert.EqualValues(t, 0.006, site.Reservoirs[0].LowBand)
	site, _ = exampleWith(t, "200 L", "low_switch: {line: GPIO23, at: 155 L, water: closes}")
	assert.Zero(t, site.Reservoirs[0].LowBand)
	for _, band := range []string{"0 mm", "60 mm", "6 cm", "-2 mm", "much"} {
		_, problems := exampleWith(t, "200 L", "low_switch: {line: GPIO23, at: 155 L, water: closes, band: "+band+"}")
		require.Error(t, problems.Err(), band)
	}
}
