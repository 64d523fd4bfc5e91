package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

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

func TestAProgramThatIsStoppedLateInAHoldHasWatered(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 09:09:30") // FULL stands for 5 of 6 min
	require.Equal(t, Holding, r.control.benches[0].phase)
	r.control.Shutdown(r.now)
	for _, e := range r.control.TakeEvents() {
		r.note(e)
	}
	f := r.rows()[0]
	assert.Equal(t, Interrupted, f.Outcome)
	assert.True(t, f.Counted)
	assert.Less(t, r.control.CropRatio(0), 0.01)
}

func TestAStepWithinADayKeepsTheSlotsOfABatchThatWasAdvanced(t *testing.T) {
	s := testSetup(1, 30*time.Hour, "09:00", "15:00")
	later := s.Plans[0].Stages[0]
	later.FromDay = 200
	s.Plans[0].Stages = append(s.Plans[0].Stages, later)
	s.remake()
	r := newRig(t, s, "2026-03-02 08:00")
	r.run(time.Minute)
	require.NoError(t, r.control.Advance(r.now, 0, 1))
	r.until("2026-03-02 14:00:00")
	r.now.Wall = r.now.Wall.Add(4 * time.Hour)
	r.run(24 * time.Hour)
	missed, ok := r.slots()[civil("2026-03-02 15:00")]
	require.True(t, ok, "the slot that the clock stepped over has a row")
	assert.Equal(t, Missed, missed.Outcome)
}

func TestALastDayIsTakenAsItWasShown(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-02 20:00")
	r.run(time.Minute)
	r.now.Trusted = false
	r.restart(time.Minute, false) // of unknown length: the program's day falls behind
	r.now.Wall = r.now.Wall.Add(10 * time.Hour)
	r.run(time.Minute)
	shown := civil(r.now.Wall.In(dublin).Format("2006-01-02 15:04")).Date()
	require.NoError(t, r.control.Close(r.now, 0, shown.AddDays(-1)))
	n := len(r.rows())
	r.run(30 * time.Hour)
	for _, f := range r.rows()[n:] {
		assert.True(t, f.Started.IsZero(), "%s floods", f.Cause)
	}
}

// civil is a time as the clock on the wall shows it.
func civil(shown string) schedule.Civil {
	t, err := time.Parse("2006-01-02 15:04", shown)
	if err != nil {
		panic(err)
	}
	return schedule.CivilIn(t, time.UTC)
}
