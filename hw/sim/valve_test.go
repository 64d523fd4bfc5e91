package sim_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/sim"
	"benchtide/safety"
)

// valved is the bench with a fitting and a valve that shuts it while the pump runs.
func valved() sim.Config {
	c := oneBench()
	c.Benches[0].Drain = sim.Drain{Bore: 0.020, Length: 0.6}
	return c
}

func isFull(r *safety.Readings) safety.Level  { return r.Benches[0].Full.Level }
func isEmpty(r *safety.Readings) safety.Level { return r.Benches[0].Empty.Level }

// filledAndFell is when FULL is made after the start of the pump, and when after
// its stop FULL and then EMPTY are clear; 0 when not within half an hour.
func filledAndFell(t *testing.T, w *sim.World) (fill, fall, drain time.Duration) {
	const most = 30 * time.Minute
	wait := func(of func(*safety.Readings) safety.Level, want safety.Level) time.Duration {
		from := w.Elapsed()
		for w.Elapsed() < from+most {
			w.Step(from + most)
			if of(readings(w)) == want {
				return w.Elapsed() - from
			}
		}
		return 0
	}
	w.Energise(pump, enable)
	if fill = wait(isFull, safety.Wet); fill > 0 {
		w.Advance(w.Elapsed() + 2*time.Minute)
	}
	w.Energise()
	if fill > 0 {
		fall = wait(isFull, safety.Dry)
		drain = fall + wait(isEmpty, safety.Dry)
	}
	w.Advance(w.Elapsed() + time.Hour)
	assert.Less(t, abs(w.Error()), 1e-9)
	return fill, fall, drain
}

// A valve that stays half open lets water go while the table fills and holds some
// back while it drains.
func TestAValveThatFailsHalfSlowsFillAndDrain(t *testing.T) {
	fill, _, drain := filledAndFell(t, world(t, valved()))
	require.True(t, fill > 0 && drain > 0)

	w := world(t, valved())
	require.NoError(t, w.Inject(sim.Fault{What: "valve-stuck", Where: "north", Size: 0.5}))
	halfFill, _, halfDrain := filledAndFell(t, w)
	assert.Greater(t, halfFill, fill+10*time.Second)
	assert.Greater(t, halfDrain, drain*5/4)
	assert.Zero(t, w.Truth().Totals.Spilled)

	assert.ErrorContains(t, world(t, oneBench()).Inject(sim.Fault{What: "valve-stuck", Where: "north"}),
		`fault valve-stuck: "north" is not where it can happen; there is none`)
}

// The floats of a table out of level see less water, or more, than stands in its
// middle, and none on a bare one.
func TestATableOutOfLevelFillsLateOrEarly(t *testing.T) {
	fill, fall, _ := filledAndFell(t, world(t, oneBench()))
	for _, size := range []float64{-1, -0.5, 0.3} {
		w := world(t, oneBench())
		require.NoError(t, w.Inject(sim.Fault{What: "table-tilted", Where: "north", Size: size}))
		tilted, fell, _ := filledAndFell(t, w)
		if size < 0 {
			assert.Less(t, tilted, fill-10*time.Second)
			assert.Greater(t, fell, fall+5*time.Second)
		} else {
			assert.Greater(t, tilted, fill+5*time.Second)
			assert.Less(t, fell, fall)
		}
		assert.Equal(t, safety.Dry, isFull(readings(w)))
		assert.Equal(t, safety.Dry, isEmpty(readings(w)))
	}
}
