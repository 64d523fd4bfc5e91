package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// untimed is a bench whose windows are wider than its computed times of 3 min 20 s to
// fill and 1 min 40 s to fall would have them.
func untimed(l *Limits) {
	b := &l.Benches[0]
	b.FillFrom, b.FillBy, b.FallBy = 60*sec, 400*sec, 240*sec
	l.Reservoirs[0].Usable, l.Reservoirs[0].LowAt = 1000, 900 // no run of these comes down to what is kept
}

func TestABenchThatNobodyTimedHasWiderWindows(t *testing.T) {
	t.Run("FULL early", func(t *testing.T) {
		for after, trips := range map[time.Duration]bool{55 * sec: true, 65 * sec: false} {
			rg := rigWith(t, untimed)
			rg.flood(0, 1)
			rg.wait(after)
			rg.full(0, Wet)
			rg.wait(sec)
			assert.Equal(t, trips, rg.b(0).Trip.Interlock == FillWindow, "FULL after %s", after)
		}
	})
	t.Run("FULL late", func(t *testing.T) {
		rg := rigWith(t, untimed)
		rg.flood(0, 1)
		rg.wait(399 * sec)
		assert.Empty(t, rg.b(0).Trip.Interlock, "neither the window nor the longest run is over")
		rg.wait(sec)
		assert.Equal(t, FillWindow, rg.b(0).Trip.Interlock)
		assert.Equal(t, "FULL was not made within 6 min 40 s", rg.b(0).Trip.Detail)
		assert.False(t, rg.pump(0))
	})
	t.Run("FULL clears late", func(t *testing.T) {
		rg := rigWith(t, untimed)
		stopped := drained(rg)
		rg.to(stopped + 239*sec)
		assert.False(t, rg.latched(0, DrainWindow))
		rg.to(stopped + 240*sec)
		assert.True(t, rg.latched(0, DrainWindow))
	})
}

func TestNoWindowIsNarrowerThanTheTimesSay(t *testing.T) {
	b := BenchLimits{Full: true, Fill: 200 * sec, Fall: 100 * sec, FillFrom: 150 * sec, FillBy: 250 * sec, FallBy: sec}
	from, by := b.FillWindow()
	assert.Equal(t, 100*sec, from)
	assert.Equal(t, 300*sec, by)
	assert.Equal(t, 150*sec, b.FallLimit())
	assert.Equal(t, 360*sec, b.MaxRun(mins))
}

func TestWithoutFullAndHighARunEndsByTheFillAlone(t *testing.T) {
	b := BenchLimits{Fill: 200 * sec, FillBy: 400 * sec}
	require.False(t, b.Full || b.High)
	assert.Equal(t, 200*sec, b.MaxRun(10*mins))
}
