package rehearse

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
)

// lit is the example under lamps of that light.
func lit(t *testing.T, flux, hours string) *config.Site {
	text := strings.Replace(string(config.Example), "outputs:", "outputs:\n  lamps: {line: GPIO18, energise: high, kind: lamp}", 1)
	return parse(t, text+"\nlamps: {output: lamps, "+hours+", flux: "+flux+"}\n")
}

// What a rehearsal has plants use by the light of lamps is what the forecast does, on
// every day and over the whole of it, midnight or not.
func TestLampsTakeAsMuchWaterInARehearsalAsInTheForecast(t *testing.T) {
	dark, _, err := outlook.Plants(example(t))
	require.NoError(t, err)
	from := date(t, "2026-03-02")
	for _, hours := range []string{`on: "06:00", off: "22:00"`, `on: "18:00", off: "06:00"`} {
		site := lit(t, "180 umol/m2s", hours)
		plants, _, err := outlook.Plants(site)
		require.NoError(t, err)
		with, err := plants.Weather(from, grow.Normal)
		require.NoError(t, err)
		without, err := dark.Weather(from, grow.Normal)
		require.NoError(t, err)
		use := lamps(site, from.At(0))
		assert.InEpsilon(t, float64(with.Reference-without.Reference), use(0, 24*time.Hour), 1e-9, hours)
		assert.InEpsilon(t, use(0, 24*time.Hour), use(0, 20*time.Hour)+use(20*time.Hour, 24*time.Hour), 1e-9, hours)
	}
}

func TestPotsOfALampLitRoomFallLowerInARehearsal(t *testing.T) {
	s := plain(t)
	s.Days = 10
	dark, bright := rehearsed(t, example(t), s), rehearsed(t, lit(t, "250 umol/m2s", `on: "05:00", off: "23:00"`), s)
	assert.Less(t, bright.LowestWaterFraction["basil_spring"], dark.LowestWaterFraction["basil_spring"]-0.02)
	assert.Greater(t, bright.ToppedUpL, dark.ToppedUpL)
}

// Lamps on a timer of their own are on no output, and their light and hours count.
func TestLampsOnATimerOfTheirOwnAreReckonedWithAndNotSwitched(t *testing.T) {
	hours := `on: "05:00", off: "23:00"`
	own := parse(t, string(config.Example)+"\nlamps: {"+hours+", flux: 250 umol/m2s}\n")
	setup, err := Setup(own)
	require.NoError(t, err)
	assert.Empty(t, setup.DayOutputs)
	s, wired := plain(t), lit(t, "250 umol/m2s", hours)
	s.Days = 10
	setup, err = Setup(wired)
	require.NoError(t, err)
	assert.Len(t, setup.DayOutputs, 1)
	assert.Equal(t, rehearsed(t, wired, s).LowestWaterFraction, rehearsed(t, own, s).LowestWaterFraction)
}
