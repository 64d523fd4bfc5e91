package drift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/drift"
)

// timed is a bench whose fill has to take 100 to 300 s, its fall at most 300 s
// and its drain at most 600 s.
var timed = drift.Bench{Windows: drift.Windows{FillFrom: 100 * time.Second, FillBy: 300 * time.Second, FallBy: 300 * time.Second, DrainBy: 600 * time.Second}}

// A bench that was never timed may run for weeks at the end of a window, with no
// change for a baseline to show, and latch when the reservoir stands a little
// higher.
func TestATimeThatIsNearItsLimitFromTheFirstFloodIsToldOnce(t *testing.T) {
	for name, c := range map[string]struct {
		times [3]float64
		says  string
	}{
		"falls slowly":   {[3]float64{200, 271, 500}, "the table fell in 4 min 31 s, and past 5 min the bench stops. Chore: look at the drain"},
		"drains slowly":  {[3]float64{200, 200, 541}, "the table drained in 9 min 1 s, and past 10 min the bench stops. Chore: look at the drain"},
		"fills slowly":   {[3]float64{271, 200, 500}, "the table filled in 4 min 31 s, and past 5 min the bench stops. Chore: look at the intake screen"},
		"fills quickly":  {[3]float64{110, 200, 500}, "the table filled in 1 min 50 s, and before 1 min 40 s a flood is stopped. Chore: see that the table is bare"},
		"the nearest":    {[3]float64{280, 290, 560}, "the table fell in 4 min 50 s"},
		"past its limit": {[3]float64{200, 310, 500}, "the table fell in 5 min 10 s, and past 5 min the bench stops"},
	} {
		t.Run(name, func(t *testing.T) {
			found := run(timed, times(30, c.times)...)
			require.Len(t, found, 1)
			f, told := found[1]
			require.True(t, told, "at the second flood in a row")
			assert.Equal(t, drift.NearLimit, f.Cause)
			assert.True(t, f.Pressing)
			assert.Contains(t, f.String(), c.says)
			assert.Contains(t, f.String(), "benchtide commission")
		})
	}
}

func TestATenthOfEachWindowIsEnough(t *testing.T) {
	assert.Empty(t, run(timed, times(30, [3]float64{270, 270, 540})...))
	assert.Empty(t, run(timed, times(30, [3]float64{112, 1, 1})...))
	assert.Empty(t, run(timed, times(30, [3]float64{200, 0, 0})...), "times that were not seen")
	assert.Empty(t, run(drift.Bench{}, times(30, [3]float64{900, 900, 900})...), "windows that have no end")
}

func TestOneFloodNearALimitMayHaveMetDryPots(t *testing.T) {
	well, near := [3]float64{200, 200, 500}, [3]float64{280, 200, 500}
	assert.Empty(t, run(timed, near, well, near, well, near))
}

func TestATimeNearItsLimitIsToldAgainOnlyOnceItWasWell(t *testing.T) {
	well, near := [3]float64{260, 200, 500}, [3]float64{275, 200, 500}
	hovering := append(times(2, near), well, well, well, well, well, near, near, near)
	assert.Len(t, run(timed, hovering...), 1)
	mended := append(append(times(2, near), times(6, well)...), near, near)
	found := run(timed, mended...)
	assert.Len(t, found, 2)
	assert.Contains(t, found, 9)
}

// A change and the limit that it comes near are one message.
func TestAChangeThatComesNearALimitSaysBoth(t *testing.T) {
	found := run(timed, append(times(20, [3]float64{200, 200, 500}), times(2, [3]float64{200, 290, 500})...)...)
	require.Len(t, found, 1)
	f := found[21]
	assert.Equal(t, drift.DrainBlocks, f.Cause)
	assert.True(t, f.Pressing)
	assert.Contains(t, f.String(), "Likely: the drain is blocking")
	assert.Contains(t, f.String(), "Besides, the table fell in 4 min 50 s, and past 5 min the bench stops")
}
