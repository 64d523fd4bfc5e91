package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

func TestAPauseHasAnEndWithinTwoWeeks(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	pause := func(d time.Duration) error { return r.control.Pause(r.now, 0, r.now.Wall.Add(d), "") }
	assert.ErrorContains(t, pause(0), "08:00 has passed")
	assert.ErrorContains(t, pause(14*tomorrow+1), "is longer than 14 days")
	assert.NoError(t, pause(14*tomorrow))
	assert.NoError(t, pause(1))
}

func TestAPauseIsLiftedByHandOnce(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(10*time.Hour), "the caretaker"))
	r.until("2026-03-02 09:30:00")
	assert.Equal(t, "until Mon 2 Mar 18:00 by the caretaker", r.control.benches[0].queue[0].refusal.Detail)
	require.NoError(t, r.control.Resume(r.now, 0))
	assert.ErrorContains(t, r.control.Resume(r.now, 0), "it is not paused")
	r.run(time.Hour)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(time.Hour), ""))
	assert.Equal(t, "until Mon 2 Mar 11:30", r.control.benches[0].pause.text(r.control))
}

func TestNobodyActsOnABenchThatIsNotThere(t *testing.T) {
	r := newRig(t, testSetup(2, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	for _, b := range []int{-1, 2} {
		_, skip := r.control.SkipNext(r.now, b)
		for _, err := range []error{
			r.control.Pause(r.now, b, r.now.Wall.Add(time.Hour), ""), r.control.Resume(r.now, b),
			r.control.Flood(r.now, b, time.Minute), r.control.StopFlood(r.now, b), skip,
		} {
			assert.ErrorIs(t, err, errNoBench)
		}
	}
}

func TestHandsInIsRemindedOfEveryHour(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 12:00")
	r.turn()
	r.guard.SetHandsIn(r.now, true)
	r.turn()
	for _, at := range []struct {
		clock string
		told  int
	}{{"12:59:59", 0}, {"13:00:00", 1}, {"13:59:59", 1}, {"14:00:00", 2}} {
		r.until("2026-03-02 " + at.clock)
		assert.Equal(t, at.told, r.told("hands-in"), at.clock)
	}
	r.guard.SetHandsIn(r.now, false)
	r.run(3 * time.Hour)
	assert.Equal(t, 2, r.told("hands-in"))
	assert.Equal(t, 1, countKind(r, HandsInBegan))
	assert.Equal(t, 1, countKind(r, HandsInEnded))
}

func TestAFloodByHandHasAHoldThatTheBenchGrants(t *testing.T) {
	most := testLimits(1).Benches[0].MaxHold
	for hold, refused := range map[time.Duration]string{
		-1: "is outside 0 to 8m0s", most + 1: "is outside 0 to 8m0s", most: "", time.Minute: "", 0: "",
	} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 12:00")
		r.until("2026-03-02 12:20:00")
		err := r.control.Flood(r.now, 0, hold)
		if refused != "" {
			assert.ErrorContains(t, err, refused, hold)
			continue
		}
		require.NoError(t, err, hold)
		r.run(time.Hour)
		want := hold
		if hold == 0 {
			want = 6 * time.Minute // its stage's
		}
		assert.Equal(t, want, r.rows()[0].Hold)
		assert.InDelta(t, want.Seconds(), r.rows()[0].Stood.Seconds(), 2)
	}
}

func TestABenchWithoutAStageFloodsByHandWithAHoldOfItsOwn(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Batches[0].Closed = schedule.DateOf(2026, 3, 1)
	s.Limits.Benches[0].MaxHold = 0 // nothing is known of how long it may be
	s.remake()
	r := newRig(t, s, "2026-03-02 12:00")
	r.until("2026-03-02 12:20:00")
	assert.ErrorContains(t, r.control.Flood(r.now, 0, 0), "give a hold")
	assert.NoError(t, r.control.Flood(r.now, 0, time.Hour))
}

func TestShutdownEndsWhatIsUnderWayOnEveryBench(t *testing.T) {
	for _, storage := range []bool{true, false} {
		r := newRig(t, testSetup(2, 48*time.Hour, "09:00"), "2026-03-02 12:00")
		r.until("2026-03-02 12:20:00")
		r.storage = storage
		require.NoError(t, r.control.Flood(r.now, 1, time.Minute))
		r.run(2 * time.Second)
		r.control.Shutdown(r.now)
		for _, e := range r.control.TakeEvents() {
			r.note(e)
		}
		want := Missed
		if storage {
			want = Interrupted
		}
		require.Len(t, r.rows(), 1)
		assert.Equal(t, want, r.rows()[0].Outcome)
	}
}

func TestAPlannedFloodThatAPauseOutlastsIsRefusedAndTold(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(6*time.Hour), ""))
	r.until("2026-03-02 10:59:00")
	assert.Empty(t, r.messages, "nobody is told of what a person wanted, until the slot is given up")
	r.until("2026-03-02 11:00:00")
	r.wantMessage("the flood of Mon 2 Mar 09:00 is refused: paused: until Mon 2 Mar 14:00")
	r.wantMessage("The next is planned for Tue 3 Mar 09:00.")
}

func TestASkippedSlotIsNobodysBusiness(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	_, err := r.control.SkipNext(r.now, 0)
	require.NoError(t, err)
	r.run(time.Hour)
	assert.Zero(t, r.told("flood"))
}
