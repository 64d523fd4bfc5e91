package controller

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

const tomorrow = 24 * time.Hour

func TestFloodGoesFromSlotToProven(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(3 * time.Hour)
	require.Len(t, r.rows(), 1)
	f := r.rows()[0]
	assert.Equal(t, Proven, f.Outcome)
	assert.Equal(t, BySchedule, f.Cause)
	assert.Equal(t, "2026-03-02T09:00", f.Slot.String())
	assert.Equal(t, "09:00:00", f.Started.In(dublin).Format("15:04:05"))
	assert.InDelta(t, 4*60, f.Fill.Seconds(), 4)
	assert.InDelta(t, 6*60, f.Stood.Seconds(), 2)
	assert.InDelta(t, 600, r.pumped[1].Seconds(), 4, "the pump runs for fill and hold")
	assert.True(t, f.Counted)
	assert.Empty(t, r.messages)
}

func TestEverySlotOfManyDaysHasOneOutcome(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "08:30", "15:00"), "2026-03-02 00:00")
	r.run(10 * tomorrow)
	rows := r.rows()
	require.Len(t, rows, 20)
	seen := map[schedule.Civil]bool{}
	for _, f := range rows {
		assert.Equal(t, Proven, f.Outcome, f.Slot)
		assert.False(t, seen[f.Slot], "slot %v twice", f.Slot)
		seen[f.Slot] = true
	}
}

func TestCoincidingSlotsRunInOrderOfTheFile(t *testing.T) {
	r := newRig(t, testSetup(3, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.run(4 * time.Hour)
	rows := r.rows()
	require.Len(t, rows, 3)
	for i, f := range rows {
		assert.Equal(t, i, f.Bench)
		assert.Equal(t, Proven, f.Outcome)
		if i > 0 {
			assert.False(t, f.Started.Before(rows[i-1].Ended), "floods of one reservoir do not overlap")
		}
	}
}

func TestStirrerRunsAheadOfTheFlood(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "stirrer", Kind: safety.Stirrer, Enable: 0})
	s.Limits.Stirrers = []safety.StirrerLimits{{Output: 2, BeforeFlood: 10 * time.Minute}}
	r := newRig(t, s, "2026-03-02 08:00")
	var on, off time.Time
	for r.now.Wall.Before(time.Date(2026, 3, 2, 9, 30, 0, 0, time.UTC)) {
		r.run(time.Second)
		switch {
		case r.command.On(2) && on.IsZero():
			on = r.now.Wall
		case !r.command.On(2) && !on.IsZero() && off.IsZero():
			off = r.now.Wall
		}
	}
	assert.InDelta(t, 0, on.Sub(time.Date(2026, 3, 2, 8, 50, 0, 0, time.UTC)).Seconds(), 1)
	assert.InDelta(t, 0, off.Sub(time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)).Seconds(), 2, "it stops when the flood pump starts")
}

func TestBuzzerSoundsBeforeAnAutomaticStart(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "buzzer", Kind: safety.Other, Enable: -1})
	s.Buzzer, s.BuzzBefore = 2, 10*time.Second
	r := newRig(t, s, "2026-03-02 08:30")
	r.run(30*time.Minute + 2*time.Second)
	assert.True(t, r.command.On(2))
	assert.False(t, r.command.On(1))
	r.run(20 * time.Second)
	assert.False(t, r.command.On(2))
	assert.True(t, r.command.On(1))
}

// What the guard says of a run, as the ending of a flood has it.
func TestAnEndingHasTheTimeThatThePumpRan(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	e := r.control.endingOf(0, &safety.BenchView{Started: time.Hour, Stopped: time.Hour + 5*time.Minute})
	assert.Equal(t, 5*time.Minute, e.ran)
}

func TestWaterThatCameTakesBackACatchUpUnlessTheCropCannotWait(t *testing.T) {
	for _, canWait := range []time.Duration{48 * time.Hour, time.Hour} {
		r := newRig(t, testSetup(1, canWait, "09:00"), "2026-03-02 12:00")
		r.run(30 * time.Minute)
		c := r.control
		c.benches[0].queue = []job{c.newJob(0, ByCatchUp, r.now.Wall, time.Hour)}
		c.crops[0].since = r.now.Mono
		c.waterCame(0, r.now.Mono)
		assert.Equal(t, canWait == 48*time.Hour, len(c.benches[0].queue) == 0, "can wait %s", canWait)
	}
}

func TestSlowStorageIsToldAgainOnceItHadAnswered(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "12:00", "15:00", "18:00"), "2026-03-02 08:00")
	told := func(until string, storage bool) (n int) {
		r.storage, r.messages = storage, nil
		r.until(until)
		for _, m := range r.messages {
			if strings.Contains(m, "storage did not answer") {
				n++
			}
		}
		return n
	}
	assert.Equal(t, 1, told("2026-03-02 10:00:00", false))
	assert.Equal(t, 0, told("2026-03-02 13:00:00", false), "known")
	assert.Equal(t, 0, told("2026-03-02 16:00:00", true))
	assert.Equal(t, 1, told("2026-03-02 19:00:00", false), "anew")
}

func TestStartWaitsThreeSecondsForStorage(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.storage = false
	r.run(30*time.Minute + 2*time.Second)
	assert.False(t, r.command.On(1), "the intention is not on record")
	r.run(3 * time.Second)
	assert.True(t, r.command.On(1), "no turn waits for storage for ever")
	r.run(2 * time.Hour)
	f := r.rows()[0]
	assert.True(t, f.Unrecorded)
	assert.Equal(t, Proven, f.Outcome)
	r.wantMessage("storage did not answer")
}

func TestDeadPumpIsUnprovenAndLatches(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].dead = true
	r.run(2 * time.Hour)
	f := r.rows()[0]
	assert.Equal(t, Unproven, f.Outcome)
	assert.True(t, strings.HasPrefix(f.Reason, "fill-window"), f.Reason)
	assert.False(t, f.Counted)
	assert.InDelta(t, 360, r.pumped[1].Seconds(), 3, "1.5 × T_fill")
	r.wantMessage("filling too slow or too fast")
	r.wantMessage("basil north")
}

func TestFailedFillWhoseWaterCameHomeIsTriedOnceMore(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Benches[0].Empty = true
	r := newRig(t, s, "2026-03-02 08:00")
	r.tables[0].slowness = 2
	r.run(time.Hour + 10*time.Minute)
	r.tables[0].slowness = 1
	r.run(2 * time.Hour)
	require.Len(t, r.rows(), 1, "a retry reuses the row")
	f := r.rows()[0]
	assert.Equal(t, 1, f.Attempt)
	assert.Equal(t, Proven, f.Outcome)
	assert.InDelta(t, 0.3*(360+240), float64(f.Litres), 3, "litres of both attempts")
}

func TestRefusedFloodIsTriedUntilItsDeadline(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.run(2 * time.Hour)
	require.Len(t, r.events, countKind(r, MessageSent)+countKind(r, GuardActed)+1, "one refusal event for one reason")
	r.wantMessage("Too little water")
	r.tables[0].lowDry = false
	r.run(time.Hour)
	f := r.rows()[0]
	assert.Equal(t, Proven, f.Outcome)
	assert.Equal(t, "10:00", f.Started.In(dublin).Format("15:04"))
}

func TestRefusedAtTheDeadlineHasTheReason(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.run(4 * time.Hour)
	f := r.rows()[0]
	assert.Equal(t, Refused, f.Outcome)
	assert.True(t, strings.HasPrefix(f.Reason, "reservoir-low"), f.Reason)
	assert.True(t, f.Started.IsZero())
	assert.Equal(t, "11:00", f.Ended.In(dublin).Format("15:04"))
}

func TestRefusedBenchDoesNotHoldTheReservoir(t *testing.T) {
	r := newRig(t, testSetup(2, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.tables[0].stuck = true
	r.run(2 * time.Hour)
	for _, f := range r.rows() {
		if f.Bench == 1 {
			assert.Equal(t, Proven, f.Outcome)
		}
	}
	r.wantMessage("water on the table before a flood")
}

func TestTimedBenchRunsToTheCrestAndIsBelieved(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Benches[0].Full, s.Limits.Benches[0].High = false, false
	r := newRig(t, s, "2026-03-02 08:00")
	r.run(2 * time.Hour)
	f := r.rows()[0]
	assert.Equal(t, Unproven, f.Outcome)
	assert.True(t, f.Counted)
	assert.InDelta(t, 240, r.pumped[1].Seconds(), 2)
	assert.Zero(t, countTrips(r))
}

func TestHandFloodEndsByItself(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 12:00")
	r.run(20 * time.Minute)
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	require.Error(t, r.control.Flood(r.now, 0, 0))
	r.run(time.Hour)
	f := r.rows()[0]
	assert.Equal(t, ByHand, f.Cause)
	assert.Equal(t, Proven, f.Outcome)
}

func TestPersonStopsTheFlood(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.run(32 * time.Minute)
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.turn()
	assert.False(t, r.command.On(1))
	r.run(time.Hour)
	assert.Equal(t, Interrupted, r.rows()[0].Outcome)
	assert.Equal(t, "stopped by hand", r.rows()[0].Reason)
}

func TestHandsInStopsAndHoldsOff(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:30")
	r.run(32 * time.Minute)
	r.guard.SetHandsIn(r.now, true)
	r.turn()
	assert.False(t, r.command.Any())
	r.run(3 * time.Hour)
	r.wantMessage("Hands-in is still on")
	assert.Equal(t, Interrupted, r.rows()[0].Outcome)
}

func TestPauseEndsByItself(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(90*time.Minute), "the caretaker"))
	require.Error(t, r.control.Pause(r.now, 0, r.now.Wall.Add(-time.Minute), ""))
	r.run(85 * time.Minute)
	assert.False(t, r.command.Any())
	r.run(time.Hour)
	f := r.rows()[0]
	assert.Equal(t, Proven, f.Outcome)
	assert.Equal(t, "09:30", f.Started.In(dublin).Format("15:04"))
}

func (r *rig) wantMessage(text string) {
	r.t.Helper()
	for _, m := range r.messages {
		if strings.Contains(m, text) {
			return
		}
	}
	r.t.Errorf("no message holds %q:\n%s", text, strings.Join(r.messages, "\n"))
}

func countKind(r *rig, k EventKind) int {
	n := 0
	for _, e := range r.events {
		if e.Kind == k {
			n++
		}
	}
	return n
}

func countTrips(r *rig) int {
	n := 0
	for _, e := range r.events {
		if e.Kind == GuardActed && (e.Guard.Kind == safety.Tripped || e.Guard.Kind == safety.LatchedEvent) {
			n++
		}
	}
	return n
}
