package sheet_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/sheet"
)

var (
	slow  = sheet.Timed{Fill: 270 * time.Second, Fall: 140 * time.Second, Drain: 11 * time.Minute, Drawn: 115}
	alike = []sheet.Timed{slow, slow, slow}
)

func TestACalibrationReplacesWhatWasComputed(t *testing.T) {
	b := greenhouse()
	before := mustSheet(t, b)
	c, err := sheet.Calibrate(b, alike)
	require.NoError(t, err)
	b.Cycle = c.Cycle
	after := mustSheet(t, b)
	assert.Equal(t, []time.Duration{slow.Fill, slow.Fall, slow.Drain}, []time.Duration{after.Fill, after.Fall, after.Drain})
	assert.InDelta(t, c.Flow.Value, float64(after.Flow), 0.1)
	assert.InDelta(t, c.Free.Value/2.88, float64(after.ToRim/before.ToRim), 1e-6)
	assert.Less(t, after.VFlood, before.VFlood, "115 L drawn are less than the file's table takes")
	assert.InDelta(t, 115, float64(after.VFlood), 0.5)
	assert.Empty(t, c.Assumed)
}

func TestAMeterInTheSupplyGivesFlowAndAreaAtOnce(t *testing.T) {
	c, err := sheet.Calibrate(greenhouse(), []sheet.Timed{{Fill: 4 * time.Minute, Lifted: 80}})
	require.NoError(t, err)
	assert.InDelta(t, 1200, c.Flow.Value, 1e-6, "80 L in 4 min")
	assert.InDelta(t, (80-0.8506)/26, c.Free.Value, 1e-4, "less the hose, over 26 mm")
}

func TestWhatNobodyReadIsSaidToBeAssumed(t *testing.T) {
	c, err := sheet.Calibrate(greenhouse(), []sheet.Timed{{Fill: 4 * time.Minute}})
	require.NoError(t, err)
	assert.Len(t, c.Assumed, 2)
	assert.InDelta(t, 2.88, c.Free.Value, 1e-9)
	assert.InDelta(t, 1, c.Home.Value, 0)
}

func TestAFloodWithoutLitresRestsOnThoseWithThem(t *testing.T) {
	bare := slow
	bare.Drawn = 0
	with, err := sheet.Calibrate(greenhouse(), alike)
	require.NoError(t, err)
	mixed, err := sheet.Calibrate(greenhouse(), []sheet.Timed{bare, slow})
	require.NoError(t, err)
	assert.InEpsilon(t, with.Flow.Value, mixed.Flow.Value, 1e-9)
	assert.Empty(t, mixed.Assumed)
}

func TestFloodsThatAreNoCalibrationAreRefusedWithARemedy(t *testing.T) {
	quick, high, lazy := slow, slow, slow
	quick.Fill = 200 * time.Second
	high.Drawn = 150
	lazy.Fall = 220 * time.Second
	for what, c := range map[string]struct {
		floods []sheet.Timed
		want   string
	}{
		"none":               {nil, "no flood was timed"},
		"a fill unlike":      {[]sheet.Timed{slow, quick, slow}, "the flow spreads by"},
		"litres unlike":      {[]sheet.Timed{slow, high}, "spreads by"},
		"a fall unlike":      {[]sheet.Timed{slow, lazy}, "look for a leaf in the drain"},
		"too coarse to read": {[]sheet.Timed{{Fill: 8 * time.Second}}, "the flow spreads by 12 %"},
		"no fill":            {[]sheet.Timed{{Fall: time.Minute}}, "the fill has to be timed"},
		"less than the hose": {[]sheet.Timed{{Fill: time.Minute, Drawn: 0.5}}, "the hose alone holds"},
		"a fall of ages":     {[]sheet.Timed{{Fill: 270 * time.Second, Fall: 9 * time.Hour}}, "time it again"},
	} {
		_, err := sheet.Calibrate(greenhouse(), c.floods)
		assert.ErrorContains(t, err, c.want, what)
	}
	b := greenhouse()
	b.Tenants = [][]sheet.Pots{basil, nil}
	_, err := sheet.Calibrate(b, alike)
	assert.ErrorContains(t, err, "give the one that stands on the table now")
}

// By hand: 115 L less the 0.8506 L of the hose stand 42 mm high, on 2.7178 m².
func TestWaterWhoseHeightWasMeasuredGivesTheAreaByItself(t *testing.T) {
	read := slow
	read.Settle = 0.042
	c, err := sheet.Calibrate(greenhouse(), []sheet.Timed{read})
	require.NoError(t, err)
	assert.InDelta(t, (115-0.8506)/42, c.Free.Value, 1e-4)
	assert.InDelta(t, (c.Free.Value*26+0.8506)/270*3600, c.Flow.Value, 0.1)
}
