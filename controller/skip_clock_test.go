package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// A clock that is set right while a flood is under way does not move a skip to
// the slot that this flood stands for.
func TestASkipIsNotSpentOnTheSlotOfTheFloodUnderWay(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "08:00", "15:00"), "2026-03-02 07:00")
	r.until("2026-03-02 12:00:00")
	r.stepWall(3*time.Hour - 50*time.Second)
	r.run(2 * time.Minute)
	require.Equal(t, Filling, r.control.benches[0].phase)
	assert.Equal(t, "2026-03-03T08:00", r.skip().Slot.Local.String())
	r.stepWall(-3 * time.Hour)
	assert.Empty(t, r.starts(21*time.Hour))
	assert.Equal(t, Skipped, r.slots()[schedule.CivilOf(2026, 3, 3, 8, 0, 0)].Outcome)
}

// One skip leaves out one flood: a slot that the clock has stepped over is the one
// that was left out, and none is left out in its place.
func TestASkipIsSpentOnTheSlotThatTheClockSteppedOver(t *testing.T) {
	for _, back := range []time.Duration{0, time.Second, time.Hour} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-01 14:00")
		r.until("2026-03-02 08:00:00")
		r.skip()
		r.stepWall(3*time.Hour + 30*time.Minute)
		if back > 0 {
			r.run(back)
			r.stepWall(-3*time.Hour - 30*time.Minute)
		}
		starts := r.starts(8 * time.Hour)
		assert.Len(t, starts, 1, "that of 15:00, after %s", back)
		slots := r.slots()
		assert.Equal(t, Skipped, slots[civil("2026-03-02 09:00")].Outcome)
		assert.Equal(t, Proven, slots[civil("2026-03-02 15:00")].Outcome)
		assert.Equal(t, 1, r.outcomes()[Skipped])
	}
}

// A clock that is years off for a while changes nothing of what was named.
func TestASkipKeepsTheSlotThatWasNamedOverAYearBackAndForth(t *testing.T) {
	const year = 365 * tomorrow
	for _, there := range []time.Duration{-year, year, -10 * tomorrow, 90 * tomorrow} {
		for _, stay := range []time.Duration{time.Second, 30 * time.Minute} {
			r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-01 14:00")
			r.until("2026-03-02 08:00:00")
			p := r.skip()
			require.Equal(t, "2026-03-02T09:00", p.Slot.Local.String())
			r.stepWall(there)
			r.run(stay)
			r.stepWall(-there)
			assert.Empty(t, r.starts(6*time.Hour+30*time.Minute), "%s for %s", there, stay)
			assert.Len(t, r.starts(time.Hour), 1, "%s for %s", there, stay)
			r.run(2 * tomorrow)
			assert.Equal(t, 1, r.outcomes()[Skipped], "%s for %s", there, stay)
		}
	}
}

// A plan that has no flood any more where one was skipped needs no skip, and its
// person is told; one that has moved it is followed.
func TestASkipOfASlotThatIsNoMore(t *testing.T) {
	for name, tt := range map[string]struct {
		times []string
		next  string // what is left out, or floods when told
		told  int
	}{
		"removed":            {[]string{"15:00"}, "2026-03-02 15:00", 1},
		"moved a little":     {[]string{"09:40", "15:00"}, "2026-03-02 09:40", 0},
		"moved far":          {[]string{"13:00"}, "2026-03-02 13:00", 1},
		"one before it":      {[]string{"08:30", "15:00"}, "2026-03-02 08:30", 0},
		"kept, and one more": {[]string{"09:00", "12:00", "15:00"}, "2026-03-02 09:00", 0},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-01 14:00")
		r.until("2026-03-02 08:00:00")
		r.skip()
		s := r.down(time.Minute)
		r.setup = testSetup(1, 100*time.Hour, tt.times...)
		r.up(s, "boot")
		r.run(8 * time.Hour)
		assert.Equal(t, tt.told, r.told("skip"), name)
		want := Skipped
		if tt.told > 0 {
			want = Proven
			r.wantMessage("which was to be skipped, is not planned any more")
		}
		assert.Equal(t, want, r.slots()[civil(tt.next)].Outcome, name)
		assert.Equal(t, 1-tt.told, r.outcomes()[Skipped], name)
		assert.Empty(t, r.control.benches[0].skips, name)
	}
}

// What the power left out while floods followed elapsed time is on record as
// skipped, and the flood that comes at the return is not.
func TestASkipByElapsedTimeThatAnOutageOutlastedIsOnRecord(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.now.Trusted = false
	r.turn()
	r.skip()
	r.restart(14*time.Hour, true)
	assert.Len(t, r.starts(time.Hour), 1)
	assert.Equal(t, 1, r.outcomes()[Skipped])
	assert.Empty(t, r.control.benches[0].skips)
}

// An outage whose length is not known yet takes no skip: it may have been short.
func TestASkipByElapsedTimeOutlastsAnOutageOfUnknownLength(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.now.Trusted = false
	r.turn()
	r.skip()
	r.bootWithoutClock(time.Minute, time.Minute)
	r.now.Trusted = true
	assert.Empty(t, r.starts(12*time.Hour))
	assert.Len(t, r.starts(12*time.Hour), 1)
	assert.Equal(t, 1, r.outcomes()[Skipped])
}

// A skip that was asked for without a slot, and meant one for a while, leaves out
// one flood: the one by elapsed time, and the slot of about its time.
func TestASkipWithoutANameStandsForTheSlotOfItsTimeAlone(t *testing.T) {
	r := firstStart(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), time.Date(2036, 5, 30, 8, 0, 0, 0, dublin))
	r.run(time.Minute)
	require.Zero(t, r.skip().Slot.Local)
	r.now.Wall, r.now.Trusted = time.Date(2026, 6, 2, 8, 0, 0, 0, dublin), true
	r.run(time.Minute)
	require.Equal(t, civil("2026-06-02 09:00"), r.control.benches[0].skips[0].Slot)
	r.bootWithoutClock(48*time.Hour, 6*time.Hour)
	r.run(time.Hour)
	slots := r.slots()
	assert.Equal(t, Missed, slots[civil("2026-06-02 09:00")].Outcome, "the power was off")
	assert.Equal(t, Skipped, slots[civil("2026-06-04 09:00")].Outcome)
	assert.Equal(t, skippedInstead, slots[civil("2026-06-04 09:00")].Reason)
}

// A clock that turns out to have been a day ahead shows floods before the one that
// was named: the next of them is meant.
func TestASkipMeansAnEarlierFloodThatAClockSetBackShows(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00", "15:00"), "2026-03-04 09:30")
	r.turn()
	require.Equal(t, civil("2026-03-04 12:00"), r.skip().Slot.Local)
	r.stepWall(-15 * time.Hour)
	r.run(25 * time.Hour)
	slots := r.slots()
	assert.Equal(t, Skipped, slots[civil("2026-03-04 09:00")].Outcome)
	assert.Equal(t, Proven, slots[civil("2026-03-04 12:00")].Outcome)
}
