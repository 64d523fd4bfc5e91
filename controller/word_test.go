package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// A word that was given under a wrong date holds from the day on which it was
// given.
func TestAWordHoldsFromItsDayWhateverTheClockCalledIt(t *testing.T) {
	for name, tt := range map[string]struct {
		start   time.Time
		trusted bool
		restart bool
	}{
		"a wrong future":             {time.Date(2036, 2, 28, 10, 0, 0, 0, time.UTC), false, false},
		"a wrong past":               {time.Unix(1000, 0).UTC(), false, false},
		"a future that was believed": {time.Date(2036, 2, 28, 10, 0, 0, 0, time.UTC), true, false},
		"a wrong future, a restart":  {time.Date(2036, 2, 28, 10, 0, 0, 0, time.UTC), false, true},
		"a past that was believed":   {time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC), true, false},
	} {
		s := stagedSetup(true)
		r := firstStart(t, s, tt.start)
		r.now.Trusted = tt.trusted
		r.run(time.Minute)
		c := r.control
		yesterday := schedule.CivilIn(r.now.Wall, dublin).Date().AddDays(-1)
		require.NoError(t, c.Close(r.now, 0, yesterday), name)
		if tt.restart {
			r.restart(time.Minute, true)
			c = r.control
		}
		r.run(time.Hour)
		r.now.Wall, r.now.Trusted = time.Date(2026, 3, 20, 8, 0, 0, 0, time.UTC), true
		r.turn()
		assert.Equal(t, schedule.DateOf(2026, 3, 19), c.setup.Batches[0].Closed, name)
		before := len(r.rows())
		r.run(3 * tomorrow)
		assert.Len(t, r.rows(), before, "%s: it stays closed", name)
	}
}

func TestALastDayThatAPersonKnowsIsLeftAsItIs(t *testing.T) {
	r := newRig(t, stagedSetup(true), "2026-03-09 12:00")
	r.turn()
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 4, 1)))
	r.stepWall(5 * tomorrow)
	r.turn()
	assert.Equal(t, schedule.DateOf(2026, 4, 1), r.control.setup.Batches[0].Closed)
	assert.Empty(t, r.control.progress[0].said)
}

func TestAStageEnteredUnderAWrongDateIsEntered(t *testing.T) {
	r := newRig(t, stagedSetup(true), "2026-03-09 12:00")
	r.stepWall(10 * 365 * tomorrow)
	r.turn()
	stage := 1 - r.control.stageNow(0)
	require.NoError(t, r.control.Advance(r.now, 0, stage))
	r.run(time.Hour)
	r.stepWall(-10 * 365 * tomorrow)
	r.turn()
	assert.Equal(t, stage, r.control.stageNow(0))
	assert.Equal(t, schedule.DateOf(2026, 3, 9), r.control.setup.Batches[0].Passages[0].On)
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

// A bench that is emptied is empty, whatever date a clock shows that is not
// trusted.
func TestABenchIsEmptyFromTheDayThatTheProgramTakesItFor(t *testing.T) {
	for _, shown := range []time.Duration{-3650 * tomorrow, -3 * tomorrow, -tomorrow, 0, tomorrow, 3 * tomorrow, 3650 * tomorrow} {
		r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-12 08:00")
		r.run(2 * time.Hour)
		r.now.Trusted = false
		r.stepWall(shown)
		r.run(time.Minute)
		names, err := r.control.Empty(r.now, 0)
		require.NoError(t, err, shown)
		assert.Equal(t, []string{"basil_north"}, names)
		_, err = r.control.Empty(r.now, 0)
		assert.ErrorContains(t, err, "no batch stands on it today")
		assert.Empty(t, r.starts(30*time.Hour), shown)
		r.stepWall(-shown)
		r.now.Trusted = true
		assert.Empty(t, r.starts(2*tomorrow), shown)
	}
}

// The same over a restart under another wrong clock, before any was trusted.
func TestAClosedBenchStaysClosedWhateverClockTheNextProgramFinds(t *testing.T) {
	for _, found := range []int{1970, 2025, 2026, 2040} {
		r := firstStart(t, testSetup(1, 50*time.Hour, "09:00", "15:00"), time.Date(2036, 1, 1, 10, 0, 0, 0, time.UTC))
		r.run(time.Minute)
		require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2035, 12, 31)))
		r.turn()
		s := r.down(time.Minute)
		r.now = safety.Now{Mono: time.Minute, Wall: time.Date(found, 3, 27, 8, 0, 0, 0, time.UTC)}
		r.up(s, "another")
		assert.Empty(t, r.starts(2*tomorrow), found)
	}
}
