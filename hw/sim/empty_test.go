package sim_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/sim"
)

// With the hose off the table stays bare, so that nothing on it tells a long
// step from a short one; the pump still runs dry in time and no water is made.
func TestPumpWithoutItsHoseEmptiesTheReservoirToItsIntake(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "hose-off", Where: "north"}))
	w.Energise(pump, enable)
	w.Advance(time.Hour)
	w.Energise()
	w.Advance(25 * time.Hour)

	truth := w.Truth()
	assert.InDelta(t, 9, truth.Reservoirs[0].Litres, 1, "half of keep, less what the intake still draws")
	assert.InDelta(t, 0, truth.Error, 1e-6)
	assert.Greater(t, truth.DryRun, 45*time.Minute, "190 L last less than 12 min")
}
