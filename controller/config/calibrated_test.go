package config_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/sheet"
	"benchtide/hw/lines"
	"benchtide/schedule"
)

func TestACalibrationReplacesTheFilesCycle(t *testing.T) {
	site := mustParse(t, string(config.Example))
	measured, err := site.WithCalibration(map[string]sheet.Cycle{"north": {Fill: 190 * time.Second, Fall: 130 * time.Second, Flow: 1260}})
	require.NoError(t, err)
	l := measured.Limits().Benches[0]
	assert.Equal(t, 190*time.Second, l.Fill)
	assert.Equal(t, 130*time.Second, l.Fall)
	assert.Equal(t, 12*time.Minute, l.Drain, "what was not measured stays the file's")
	assert.InDelta(t, 1260, float64(l.Flow)*3600, 1e-6)
	assert.Equal(t, 210*time.Second, site.Limits().Benches[0].Fill, "the file's site is as it was")
	assert.Equal(t, site.Fingerprint(), measured.Fingerprint())
}

func TestACalibrationThatTheFileCannotBearIsRefused(t *testing.T) {
	site := mustParse(t, string(config.Example))
	_, err := site.WithCalibration(map[string]sheet.Cycle{"north": {Free: 1.5}})
	require.ErrorContains(t, err, "by what was measured: reservoirs.tank.usable: 200 L: a flood of north takes")
	_, err = site.WithCalibration(map[string]sheet.Cycle{"north": {Fill: 210 * time.Second, Flow: 3500}})
	require.ErrorContains(t, err, "low_switch.at: 155 L: a flood of north takes")
	same, err := site.WithCalibration(map[string]sheet.Cycle{"south": {Fill: time.Hour}})
	require.NoError(t, err)
	assert.Equal(t, site.Limits(), same.Limits(), "a bench that is gone")
}

func TestHoldsAreCutOnOneBenchAlone(t *testing.T) {
	site := mustRead(t, "two-benches.yaml")
	require.Greater(t, site.Limits().Benches[0].MaxHold, time.Minute)
	require.Greater(t, site.Limits().Benches[1].MaxHold, time.Minute)
	cut := site.WithHoldsUpTo(0, time.Minute)
	assert.Equal(t, time.Minute, cut.Limits().Benches[0].MaxHold)
	assert.Equal(t, site.Limits().Benches[1].MaxHold, cut.Limits().Benches[1].MaxHold)
	assert.Less(t, cut.Limits().Benches[0].DailyRun, site.Limits().Benches[0].DailyRun)
	c, err := cut.Calendar()
	require.NoError(t, err)
	p, ok := c.After(0, site.Batches[0].Transplanted.At(0))
	require.True(t, ok)
	assert.LessOrEqual(t, p.Hold, time.Minute)
}

func TestTheBenchOfADayHasItsPotsAlone(t *testing.T) {
	site := mustParse(t, string(config.Example))
	assert.Len(t, site.BenchOn(0, schedule.DateOf(2026, 3, 2)).Tenants, 1)
	assert.Empty(t, site.BenchOn(0, schedule.DateOf(2026, 3, 1)).Tenants)
}

func TestThePlumbingIsWhatTimesHangOn(t *testing.T) {
	site := mustParse(t, string(config.Example))
	was := site.Plumbing(0)
	site.Benches[0].Full.Line = lines.Named("GPIO9")
	assert.Equal(t, was, site.Plumbing(0), "a line carries no water")
	site.Benches[0].Full.At = 0.02
	assert.NotEqual(t, was, site.Plumbing(0))
	site.Benches[0].Full = nil
	none := site.Plumbing(0)
	site.Benches[0].Supply.Length = 9
	assert.NotEqual(t, none, site.Plumbing(0))
}
