package controller

import (
	"testing"
	"time"

	"benchtide/schedule"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestClockSetBackWhileTheProgramWasOffWatersOnAndSaysSo(t *testing.T) {
	for _, sameBoot := range []bool{true, false} {
		r := newRig(t, testSetup(1, 20*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 08:00")
		r.stepWall(20 * tomorrow)
		r.run(2 * tomorrow)
		s := r.down(time.Hour)
		r.stepWall(-20 * tomorrow)
		boot := "boot"
		if !sameBoot {
			r.now.Mono, boot = time.Minute, "another"
		}
		r.up(s, boot)
		starts := r.starts(3 * tomorrow)
		assert.GreaterOrEqual(t, len(starts), 9, "three a day; same boot %v", sameBoot)
		assert.LessOrEqual(t, len(starts), 10, "and a catch-up; same boot %v", sameBoot)
		r.slots()
		r.wantMessage("The controller is back")
	}
}

func TestRestartInMidFillInterruptsAndDoesNotRepeat(t *testing.T) {
	for _, sameBoot := range []bool{true, false} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:30")
		r.run(32 * time.Minute)
		require.True(t, r.command.On(1))
		r.restart(5*time.Second, sameBoot)
		r.run(3 * time.Hour)
		require.Len(t, r.rows(), 1, "the next slot comes in time: no catch-up")
		assert.Equal(t, Interrupted, r.rows()[0].Outcome)
		r.run(tomorrow)
		assert.Equal(t, Proven, r.rows()[1].Outcome)
		assert.Equal(t, BySchedule, r.rows()[1].Cause)
	}
}

func TestRestartWhileQueuedFloodsLate(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(50 * time.Minute)
	r.restart(40*time.Minute, false)
	r.run(2 * time.Hour)
	f := r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)]
	assert.Equal(t, Proven, f.Outcome)
	assert.Equal(t, "09:42", f.Started.In(dublin).Format("15:04"), "T_drain after the start: the table may be full")
}

func TestLongOutageIsMissedWithAtMostOneCatchUp(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.run(8 * time.Hour)
	r.restart(30*time.Hour, false) // until 22:00 the next day
	r.run(30 * time.Hour)
	var caught, missed int
	for _, f := range r.rows() {
		switch {
		case f.Cause == ByCatchUp:
			caught++
			assert.Equal(t, Proven, f.Outcome)
		case f.Outcome == Missed:
			missed++
			assert.Equal(t, "the program or its power was off", f.Reason)
		}
	}
	assert.Equal(t, 1, caught)
	assert.Equal(t, 2, missed)
	assert.Len(t, r.slots(), 6)
	r.wantMessage("It was off from")
}

func TestOutageOfUnknownLengthCountsAsOneInterval(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(9 * time.Hour) // watered at 09:10; now 17:00
	r.now.Trusted = false
	r.restart(time.Minute, false)
	r.turn()
	assert.InDelta(t, (8-1.0/6+24)/30, r.control.CropRatio(0), 0.01)
	r.run(time.Hour)
	last := r.rows()[len(r.rows())-1]
	assert.Equal(t, ByElapsed, last.Cause, "the interval has passed")
	assert.Equal(t, Proven, last.Outcome)
}

func TestPausesSurviveARestart(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(100*time.Minute), ""))
	r.run(10 * time.Minute)
	r.restart(10*time.Minute, false)
	r.run(2 * time.Hour)
	assert.Equal(t, "09:40", r.rows()[0].Started.In(dublin).Format("15:04"))
}

func TestShutdownIsOnRecord(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.run(32 * time.Minute)
	r.control.Shutdown(r.now)
	for _, e := range r.control.TakeEvents() {
		r.note(e)
	}
	assert.Equal(t, Interrupted, r.rows()[0].Outcome)
	assert.Equal(t, "the program was stopped", r.rows()[0].Reason)
}

func TestRestartBetweenIntentionAndStartDoesNotRiskASecondFlood(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.storage = false // so that the start waits
	r.run(30*time.Minute + time.Second)
	require.Equal(t, Recording, r.control.benches[0].phase)
	r.storage = true
	r.restart(5*time.Second, true)
	r.run(3 * time.Hour)
	require.Len(t, r.rows(), 1)
	assert.Equal(t, Interrupted, r.rows()[0].Outcome, "storage may not have heard of a pump that started")
	assert.Zero(t, r.pumped[1])
}

func TestAFloodRefusedWhileItsIntentionIsRecordedIsStillDueAfterARestart(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.storage = false
	r.run(30*time.Minute + time.Second)
	require.Equal(t, Recording, r.control.benches[0].phase)
	r.guard.SetHandsIn(r.now, true)
	r.turn()
	require.Equal(t, Rest, r.control.benches[0].phase)
	r.storage = true
	r.restart(5*time.Second, true)
	r.guard.SetHandsIn(r.now, false)
	r.run(time.Hour)
	require.Len(t, r.rows(), 1)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
}

// The last checkpoint of a clock that was not trusted dates no outage.
func TestAnOutageThatBeganWithoutATrustedClockIsToldByItsLengthAlone(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 10:00")
	r.run(time.Minute)
	r.now.Trusted = false
	r.run(time.Minute)
	r.restart(3*time.Hour, true)
	r.turn()
	r.wantMessage("The controller is back. It was off for 3 h.")
}

// A restart while the clock is not trusted takes up again what would have been
// taken up without it.
func TestARestartWithoutATrustedClockChangesNothingOfWhatIsTakenUpAgain(t *testing.T) {
	for _, restart := range []bool{false, true} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-01 14:00")
		r.until("2026-03-02 09:01:00")
		require.NoError(t, r.control.StopFlood(r.now, 0))
		r.until("2026-03-02 09:30:00")
		r.stepWall(-5 * time.Hour)
		r.run(time.Minute)
		r.now.Trusted = false
		r.run(time.Minute)
		s := r.down(time.Minute)
		r.stepWall(5 * time.Hour)
		r.now.Trusted = true
		if restart {
			r.up(s, "boot")
		}
		assert.Len(t, r.starts(time.Hour), 1, "09:00 was stopped, and the plants need it; restart %v", restart)
	}
}

// Hours without trust that were counted by the boot-time clock are no part of the
// outage that follows them.
func TestAnOutageAfterHoursWithoutATrustedClockIsNoLongerThanItWas(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00") // watered at 09:10
	r.now.Trusted = false
	r.run(3 * time.Hour)
	r.bootWithoutClock(2*time.Hour, time.Minute)
	assert.InDelta(t, 5.85/60, r.control.CropRatio(0), 0.005)
	assert.Equal(t, 2*time.Hour, r.control.outage.length.Round(time.Minute))
}

// What a person asked for before a restart does not start by itself hours later;
// nor does a flood by elapsed time once the calendar is back.
func TestOnlyAFloodByElapsedTimeGoesOnWaitingWithoutACalendar(t *testing.T) {
	for name, tt := range map[string]struct {
		cause   Cause
		trusted bool
		waits   int
	}{
		"by elapsed time, without a calendar": {ByElapsed, false, 1},
		"by elapsed time, with one":           {ByElapsed, true, 0},
		"by hand":                             {ByHand, false, 0},
		"a catch-up":                          {ByCatchUp, false, 0},
	} {
		r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 10:00")
		r.now.Trusted = tt.trusted
		r.turn()
		r.control.resumeFlood(r.control.newJob(0, tt.cause, r.now.Wall, time.Hour).flood)
		assert.Len(t, r.control.benches[0].queue, tt.waits, name)
		assert.Equal(t, tt.waits == 0, r.control.benches[0].last.Outcome == Missed, name)
	}
}

func TestAFloodByElapsedTimeIsStirredForAfterARestart(t *testing.T) {
	s, stirrer := stirred(testSetup(1, 60*time.Hour, "09:00"))
	s.Limits.Stirrers[0].BeforeFlood = 20 * time.Minute // longer than the pump rests after a start
	r := newRig(t, s, "2026-03-02 08:00")
	r.now.Trusted = false
	r.run(tomorrow + time.Minute)
	require.NotEmpty(t, r.control.benches[0].queue)
	r.restart(time.Minute, true)
	back, stirs := r.now.Mono, false
	for !r.command.On(1) {
		stirs = stirs || r.command.On(stirrer)
		r.run(time.Second)
		require.Less(t, r.now.Mono-back, time.Hour)
	}
	assert.True(t, stirs)
	assert.InDelta(t, 20, (r.now.Mono - back).Minutes(), 0.5)
}
