package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// bootWithoutClock restarts after an outage on a board that wakes up in 1970
// and whose clock is set after synced.
func (r *rig) bootWithoutClock(outage, synced time.Duration) {
	const wrong = -56 * 365 * tomorrow
	s := r.down(outage)
	r.stepWall(wrong)
	r.now.Mono, r.now.Trusted = time.Minute, false
	r.up(s, "another")
	r.run(synced)
	r.stepWall(-wrong)
	r.now.Trusted = true
	r.turn()
}

func TestOutageIsMeasuredOnceTheClockIsSet(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.run(7*time.Hour + 2*time.Minute) // in mid-fill at 15:02
	r.bootWithoutClock(6*time.Hour, time.Minute)
	assert.InDelta(t, 12.0/30, r.control.CropRatio(0), 0.01, "since 09:10, not an interval more")
	r.wantMessage("It was off from Mon 2 Mar 15:02 to Mon 2 Mar 21:02")
	r.run(10 * time.Hour)
	for _, f := range r.rows() {
		assert.NotEqual(t, ByElapsed, f.Cause, "the calendar is back before the pump has rested")
		assert.NotEqual(t, ByCatchUp, f.Cause, "the next slot is in time")
	}
	for _, m := range r.messages {
		assert.NotContains(t, m, "clock is not trusted", "a minute without a clock after power-on is nobody's business")
	}
}

func TestCatchUpFollowsOnceTheOutageIsMeasured(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(4 * time.Hour)
	r.bootWithoutClock(28*time.Hour, time.Minute) // 16:00 the next day: 31 h since the last flood
	r.run(3 * time.Hour)
	last := r.rows()[len(r.rows())-1]
	assert.Equal(t, ByCatchUp, last.Cause)
	assert.Equal(t, Proven, last.Outcome)
	assert.Equal(t, Missed, r.slots()[schedule.CivilOf(2026, 3, 3, 9, 0, 0)].Outcome)
}

func TestQueuedSlotWaitsForTheClockAndFloodsLate(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.run(70 * time.Minute) // 09:10: due, refused and queued
	r.tables[0].lowDry = false
	r.bootWithoutClock(20*time.Minute, time.Minute)
	r.run(2 * time.Hour)
	f := r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)]
	assert.Equal(t, Proven, f.Outcome)
	require.Len(t, r.rows(), 1)
}

func TestClockThatIsNeverSetIsTold(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(9 * time.Hour)
	s := r.down(time.Hour)
	r.now.Mono, r.now.Trusted = time.Minute, false
	r.up(s, "another")
	r.run(9 * time.Minute)
	assert.Empty(t, r.messages)
	r.run(2 * time.Minute)
	r.wantMessage("outage of unknown length")
	r.wantMessage("The clock is not trusted")
}

func TestCropOnItsWayToAFloodIsNotEscalated(t *testing.T) {
	r := newRig(t, testSetup(1, 50*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.tables[0].lowDry = true
	r.run(26 * time.Hour) // the second day's flood is refused
	r.tables[0].lowDry = false
	r.run(20 * time.Hour) // 08:00: 47 h of 50, and the third day's comes at 09:00
	for _, e := range r.events {
		if e.Kind == MessageSent && e.Message.Cause == "crop-basil_north" {
			assert.Equal(t, Today, e.Message.Urgency, e.Message.Text)
		}
	}
	r.run(2 * time.Hour)
	assert.Equal(t, Proven, r.rows()[2].Outcome)
}
