package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// slots returns the slots that have an ended row, and fails on one that has
// two.
func (r *rig) slots() map[schedule.Civil]Flood {
	r.t.Helper()
	seen := map[schedule.Civil]Flood{}
	for _, f := range r.rows() {
		if !f.HasSlot || f.Open() {
			continue
		}
		_, twice := seen[f.Slot]
		require.False(r.t, twice, "slot %v has two rows", f.Slot)
		seen[f.Slot] = f
	}
	return seen
}

// stepWall sets the wall clock by d.
func (r *rig) stepWall(d time.Duration) { r.now.Wall = r.now.Wall.Add(d) }

func TestClockBackNeverRepeatsASlot(t *testing.T) {
	for _, step := range []time.Duration{-10 * time.Second, -time.Hour, -3 * time.Hour} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		r.run(2 * time.Hour)
		r.stepWall(step)
		r.run(44 * time.Hour)
		slots := r.slots()
		assert.Len(t, slots, 4, "step %v", step)
		for slot, f := range slots {
			assert.Equal(t, Proven, f.Outcome, "slot %v after a step of %v", slot, step)
		}
	}
}

func TestClockForwardFloodsLateOrSaysMissed(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.run(30 * time.Minute)
	r.stepWall(90 * time.Minute) // 10:00: within the two hours
	r.run(time.Hour)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
	r.stepWall(8 * time.Hour) // 19:00: past them
	r.run(time.Hour)
	f := r.rows()[1]
	assert.Equal(t, Missed, f.Outcome)
	assert.Equal(t, "the clock stepped over it", f.Reason)
}

func TestClockSetBackFromAWrongFutureKeepsWateringWithoutDoubling(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(3 * time.Hour)
	r.stepWall(10 * tomorrow)
	r.run(2 * tomorrow)
	r.stepWall(-10 * tomorrow)
	before := len(r.rows())
	r.run(12 * tomorrow)
	r.slots()
	var elapsed int
	for _, f := range r.rows()[before:] {
		assert.Equal(t, Proven, f.Outcome)
		if f.Cause == ByElapsed {
			elapsed++
			assert.False(t, f.HasSlot)
		}
	}
	assert.Equal(t, 12, len(r.rows())-before, "one a day")
	assert.Equal(t, 10, elapsed, "those whose slots had their outcome in the wrong future")
}

func TestClockSetBackByHoursWatersAtTheTimesThatComeTwice(t *testing.T) {
	for _, fast := range []time.Duration{3 * time.Hour, 9 * time.Hour, 20 * time.Hour, 26 * time.Hour} {
		r := newRig(t, testSetup(1, 20*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 08:00")
		starts := r.starts(2 * time.Hour)
		r.stepWall(fast)
		starts = append(starts, r.starts(11*time.Hour)...)
		r.stepWall(-fast)
		starts = append(starts, r.starts(3*tomorrow)...)
		r.slots()
		for i, at := range starts[1:] {
			gap := at - starts[i]
			assert.LessOrEqual(t, gap, 16*time.Hour, "%v fast: a night is 12 h, and half an interval 4 h", fast)
			assert.GreaterOrEqual(t, gap, 3*time.Hour, "%v fast: two floods for one", fast)
		}
	}
}

// starts runs for d and returns when the first pump started, by the boot-time
// clock.
func (r *rig) starts(d time.Duration) (at []time.Duration) {
	for end := r.now.Mono + d; r.now.Mono < end; {
		on := r.command.On(1)
		r.run(time.Minute)
		if !on && r.command.On(1) {
			at = append(at, r.now.Mono)
		}
	}
	return at
}

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

func TestUntrustedClockFloodsByElapsedTime(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.now.Trusted = false
	r.stepWall(-500 * tomorrow)
	r.run(2 * tomorrow)
	floods := r.rows()[1:]
	require.Len(t, floods, 6, "three a day")
	for _, f := range floods {
		assert.Equal(t, ByElapsed, f.Cause)
		assert.False(t, f.HasSlot)
		assert.Equal(t, Proven, f.Outcome)
	}
	r.wantMessage("The clock is not trusted")
}

func TestTrustRegainedSettlesTheSlotsItCovered(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.now.Trusted = false
	r.run(tomorrow) // wall runs right, but is not believed
	r.now.Trusted = true
	r.run(tomorrow)
	slots := r.slots()
	assert.Len(t, slots, 7)
	for slot, f := range slots {
		if f.Outcome == Missed {
			assert.Contains(t, f.Reason, "flooded by elapsed time", "slot %v", slot)
		} else {
			assert.Equal(t, Proven, f.Outcome, "slot %v", slot)
		}
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

func TestHealthyScheduleSaysNothing(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(20 * tomorrow)
	assert.Empty(t, r.messages)
}

func TestGapLongerThanTheCropCanWaitIsTold(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.wantMessage("The next planned flood comes later than that")
}

func TestCropClockEscalates(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].dead = true
	r.run(48 * time.Hour)
	var crop []string
	for _, e := range r.events {
		if e.Kind == MessageSent && e.Message.Cause == "crop-basil_north" {
			crop = append(crop, string(e.Message.Urgency))
		}
	}
	assert.Equal(t, []string{"today", "now", "now"}, crop)
	r.wantMessage("It has waited longer than it can")
}

func TestResetBringsACatchUpWhenTheCropCannotWait(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.tables[0].dead = true
	r.run(tomorrow + 4*time.Hour) // the second day's flood fails and latches
	r.tables[0].dead = false
	require.NoError(t, r.guard.Reset(r.now, 0, "pump was unplugged"))
	r.run(2 * time.Hour)
	last := r.rows()[len(r.rows())-1]
	assert.Equal(t, ByCatchUp, last.Cause)
	assert.Equal(t, Proven, last.Outcome)
	assert.True(t, last.Watched)
	r.wantMessage("first flood after the reset is proven")
}

func TestSkipNextSettlesTheSlot(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(time.Minute)
	p, err := r.control.SkipNext(r.now, 0)
	require.NoError(t, err)
	assert.Equal(t, "2026-03-02T09:00", p.Slot.Local.String())
	r.run(tomorrow + 2*time.Hour)
	slots := r.slots()
	assert.Equal(t, Refused, slots[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
	assert.Equal(t, Proven, slots[schedule.CivilOf(2026, 3, 3, 9, 0, 0)].Outcome)
}

func TestASkippedSlotStaysSkippedOverARestartAndASmallStep(t *testing.T) {
	for name, disturb := range map[string]func(*rig){
		"restart":    func(r *rig) { r.restart(time.Minute, true) },
		"other boot": func(r *rig) { r.restart(time.Minute, false) },
		"step":       func(r *rig) { r.stepWall(-time.Hour) },
		"long step":  func(r *rig) { r.stepWall(-3 * time.Hour) },
		"doubt": func(r *rig) {
			r.now.Trusted = false
			r.run(time.Hour)
			r.now.Trusted = true
		},
	} {
		r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "19:00"), "2026-03-02 08:00")
		r.run(2 * time.Hour)
		_, err := r.control.SkipNext(r.now, 0)
		require.NoError(t, err)
		disturb(r)
		assert.Empty(t, r.starts(20*time.Hour), name)
		assert.NotEmpty(t, r.starts(8*time.Hour), name)
	}
}

func TestSlotsMissedTogetherAreToldOnce(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.run(time.Hour)
	r.stepWall(100 * tomorrow)
	r.run(time.Hour)
	told := 0
	for _, e := range r.events {
		if e.Kind == MessageSent && e.Message.Cause == "missed" {
			told++
		}
	}
	assert.Equal(t, 1, told)
	r.wantMessage("200 floods from")
}

func TestFirstStartWithoutATrustedDateKeepsEveryBatchWatered(t *testing.T) {
	for _, start := range []string{"1970-01-01 00:00", "2026-03-20 08:00"} {
		s := testSetup(1, 30*time.Hour, "09:00", "15:00")
		r := newRig(t, s, start)
		r.now.Trusted = false
		var err error
		r.control, err = New(s, r.now)
		require.NoError(t, err)
		r.run(50 * time.Hour)
		assert.Len(t, r.rows(), 4, "two a day from %s", start)
	}
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

func TestClockSetRightAfterYearsInThePastGoesBackToTheCalendar(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(3 * time.Hour)
	r.stepWall(-800 * tomorrow) // the calendar has nothing in the 400 days from there
	r.run(6 * time.Hour)
	r.stepWall(800 * tomorrow)
	r.run(2 * tomorrow)
	slots := r.slots()
	require.Len(t, slots, 3)
	for slot, f := range slots {
		assert.Equal(t, Proven, f.Outcome, "slot %v", slot)
	}
}
