package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// A stop withdraws what waits.
func TestAStopWithdrawsAFloodThatWaits(t *testing.T) {
	r := newRig(t, testSetup(2, 48*time.Hour, "09:00"), "2026-03-02 06:00")
	r.run(time.Hour)
	r.storage = false
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.turn()
	require.NoError(t, r.control.Flood(r.now, 1, 0))
	r.turn()
	require.NoError(t, r.control.StopFlood(r.now, 1))
	require.NoError(t, r.control.StopFlood(r.now, 0), "while its intention is recorded")
	r.storage = true
	r.run(90 * time.Minute)
	require.Len(t, r.rows(), 2)
	for _, f := range r.rows() {
		assert.Equal(t, Skipped, f.Outcome)
		assert.Equal(t, "stopped by hand before it began", f.Reason)
	}
	assert.Zero(t, r.pumped[1]+r.pumped[2])
	assert.Empty(t, r.messages)
	assert.ErrorContains(t, r.control.StopFlood(r.now, 1), "its pump is not running and no flood waits")
}

// Whoever stops a bench is not to be surprised by the next flood in the queue.
func TestAStopWithdrawsAllThatWaits(t *testing.T) {
	for name, wait := range map[string]func(*rig){
		"for water": func(r *rig) { r.tables[0].lowDry = true },
		"for storage": func(r *rig) {
			r.until("2026-03-02 08:59:59")
			r.storage = false
			r.until("2026-03-02 09:00:01")
			require.Equal(r.t, Recording, r.control.benches[0].phase)
			require.NoError(t, r.control.StopFlood(r.now, 0))
		},
		"for the flood under way": func(r *rig) {
			r.until("2026-03-02 08:58:00")
			require.NoError(r.t, r.control.Flood(r.now, 0, 0))
			r.until("2026-03-02 09:00:05")
			require.Equal(r.t, Filling, r.control.benches[0].phase)
		},
		"until a table has drained": func(r *rig) {
			r.until("2026-03-02 08:48:00")
			require.NoError(r.t, r.control.Flood(r.now, 0, 0))
			r.until("2026-03-02 09:00:05")
			require.Equal(r.t, Draining, r.control.benches[0].phase)
		},
	} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		wait(r)
		r.until("2026-03-02 09:00:10")
		if len(r.control.benches[0].queue) > 0 && r.control.benches[0].phase == Rest {
			require.NoError(t, r.control.Flood(r.now, 0, 0))
			r.turn()
		}
		require.NoError(t, r.control.StopFlood(r.now, 0), name)
		r.turn()
		r.tables[0].lowDry, r.storage = false, true
		assert.Empty(t, r.starts(6*time.Hour), name)
		assert.Equal(t, Skipped, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome, name)
	}
}

func TestABenchThatIsEmptiedWhileItsFloodIsAboutToBeginStaysDry(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Buzzer, s.BuzzBefore = len(s.Limits.Outputs), 30*time.Second
	s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "buzzer", Kind: safety.Other, Enable: -1})
	r := newRig(t, s, "2026-03-02 08:00")
	r.until("2026-03-02 09:00:10")
	require.Equal(t, Recording, r.control.benches[0].phase)
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1)))
	r.run(time.Hour)
	assert.Zero(t, r.pumped[1])
	assert.Equal(t, Refused, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
}

func TestAStopMeansTheFloodAskedForSinceTheLastOne(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "15:00"), "2026-03-02 08:00")
	r.run(time.Second) // the table counts as full until it has drained
	for range 2 {
		require.NoError(t, r.control.Flood(r.now, 0, 0))
		r.turn()
		require.NoError(t, r.control.StopFlood(r.now, 0))
		r.turn()
	}
	r.run(3 * time.Hour)
	assert.Empty(t, r.pumped)
	require.Len(t, r.rows(), 2)
}
