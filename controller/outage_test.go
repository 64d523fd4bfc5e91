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

// resumed is a controller that has been back for an hour after an outage of
// unknown length that counted as a day, and was one of four hours.
func resumed(t *testing.T) *rig {
	r := newRig(t, testSetup(2, 48*time.Hour, "09:00"), "2026-03-02 12:00")
	r.run(2 * time.Hour)
	r.control.TakeEvents()
	c := r.control
	from := r.now.Wall.Add(-5 * time.Hour)
	back := r.now.Mono - time.Hour
	c.outage = outage{was: true, trusted: true, from: from, anchor: from, resumed: back}
	for b := range c.benches {
		c.benches[b].gap = gap{open: true, assumed: tomorrow, anchor: back - tomorrow, edge: back}
	}
	return r
}

func TestAnOutageIsMeasuredFromTheLastTrustedTime(t *testing.T) {
	for name, tt := range map[string]struct {
		change func(*outage)
		is     time.Duration // -1 where it cannot be measured
	}{
		"as it was":                 {func(*outage) {}, 4 * time.Hour},
		"of no length":              {func(o *outage) { o.anchor = o.anchor.Add(4 * time.Hour) }, 0},
		"longer than it counted as": {func(o *outage) { o.anchor = o.anchor.Add(-3 * tomorrow) }, 76 * time.Hour},
		"known already, or none":    {func(o *outage) { o.anchor = time.Time{} }, -1},
		"begun after it ended, by a clock that was ahead": {func(o *outage) { o.anchor = o.anchor.Add(4*time.Hour + 1) }, -1},
	} {
		r := resumed(t)
		c := r.control
		tt.change(&c.outage)
		at := c.outage.resumed
		for b, from := range []time.Duration{at - 1, at} {
			c.benches[b].elapsedFrom, c.crops[b].since = from, from
		}
		c.measureOutage()
		shifted := at - 1
		if tt.is >= 0 {
			shifted += tomorrow - tt.is
			assert.Equal(t, tt.is, c.outage.length, name)
		}
		assert.Equal(t, tt.is >= 0, c.outage.known, name)
		assert.Equal(t, shifted, c.benches[0].elapsedFrom, name)
		assert.Equal(t, shifted, c.crops[0].since, name)
		assert.Equal(t, at, c.benches[1].elapsedFrom, "%s: what began after it is left", name)
		assert.Equal(t, at, c.crops[1].since, "%s: what began after it is left", name)
	}
}

func TestAnOutageIsOpenUntilItIsKnownOrTold(t *testing.T) {
	assert.True(t, (&outage{was: true}).open())
	for _, o := range []outage{{}, {was: true, known: true}, {was: true, told: true}, {was: true, known: true, told: true}} {
		assert.False(t, o.open())
	}
}

func TestAnOutageIsToldOnceIfThereWasOne(t *testing.T) {
	for drift, text := range map[time.Duration]string{stepLimit: "It was off from", stepLimit + 1: "the clock was set meanwhile"} {
		r := resumed(t)
		o := &r.control.outage
		o.known, o.length, o.to = true, 3*time.Hour, o.from.Add(3*time.Hour+drift)
		r.control.tellOfOutage()
		r.control.tellOfOutage()
		*o = outage{}
		r.control.tellOfOutage()
		for _, e := range r.control.TakeEvents() {
			r.note(e)
		}
		assert.Equal(t, 1, r.told("outage"))
		r.wantMessage(text)
	}
}

func TestAShortOutageIsNobodysBusiness(t *testing.T) {
	for off, told := range map[time.Duration]int{shortOutage - 1: 0, shortOutage: 1} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 12:00")
		r.run(time.Minute)
		r.restart(off, true)
		r.turn()
		assert.Equal(t, told, r.told("outage"), off)
	}
}

func TestAClockThatWasSetInAnOutageIsSaid(t *testing.T) {
	for step, want := range map[time.Duration]string{
		0:             "It was off from Mon 2 Mar 12:01 to Mon 2 Mar 15:01.",
		2 * time.Hour: "It was off for 3 h, and the clock was set meanwhile.",
	} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 12:00")
		r.run(time.Minute)
		s := r.down(3 * time.Hour)
		r.stepWall(step)
		r.up(s, "boot")
		r.turn()
		r.wantMessage(want)
	}
}

func TestAnOutageIsMeasuredForEachBenchOnce(t *testing.T) {
	r := newRig(t, testSetup(2, 30*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.run(4 * time.Hour)
	var started [2]time.Time
	for _, f := range r.rows() {
		started[f.Bench] = f.Started
	}
	r.bootWithoutClock(5*time.Hour, time.Minute)
	for b := range started {
		since := r.now.Wall.Sub(started[b])
		assert.InDelta(t, since.Hours()/30, r.control.CropRatio(b), 0.01)
	}
}

func TestASlotThatWaitsForTheClockIsKeptOverFurtherRestarts(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.run(70 * time.Minute) // 09:10: due, refused and queued
	r.tables[0].lowDry = false
	s := r.down(10 * time.Minute)
	for range 3 {
		r.now.Mono, r.now.Trusted = time.Minute, false
		r.up(s, "another")
		r.run(time.Minute)
		s = r.down(time.Minute)
	}
	r.bootWithoutClock(time.Minute, time.Minute)
	r.run(2 * time.Hour)
	assert.Equal(t, Proven, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
}

func TestASkipThatTheOutageOutlastedLeavesOutNoOtherFlood(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 09:30:00")
	r.now.Trusted = false
	r.run(time.Minute)
	_, err := r.control.SkipNext(r.now, 0)
	require.NoError(t, err)
	r.bootWithoutClock(60*time.Hour, time.Minute) // until 5 March: two slots were missed
	r.until("2026-03-05 12:00:00")
	assert.Equal(t, Proven, r.slots()[schedule.CivilOf(2026, 3, 5, 9, 0, 0)].Outcome, "the power left out the flood that was skipped")
}

// The slot that is still open when power comes back is given up while the pump rests,
// since nobody knows when the table drained. The crop, which cannot wait for the next
// one, gets its flood all the same, and one alone.
func TestASlotThatTheRestAfterAnOutageTookIsMadeUpFor(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.restart(24*time.Hour+54*time.Minute, false) // 10:54 of the day after; the slot of 09:00 is open until 11:00
	r.until("2026-03-03 20:00:00")
	slot := r.slots()[schedule.CivilOf(2026, 3, 3, 9, 0, 0)]
	require.Equal(t, Refused, slot.Outcome, slot.Reason)
	caught := 0
	for _, f := range r.rows() {
		if f.Cause == ByCatchUp {
			caught++
			assert.Equal(t, Proven, f.Outcome, f.Reason)
		}
	}
	assert.Equal(t, 1, caught)
}

// What waited for a trusted clock and is over once it comes was missed for want of
// power, not of a clock.
func TestASlotThatAnOutageOutlastedSaysSo(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.run(70 * time.Minute) // 09:10: due, refused and queued
	r.bootWithoutClock(5*time.Hour, time.Minute)
	f := r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)]
	assert.Equal(t, Missed, f.Outcome)
	assert.Equal(t, poweredOff, f.Reason)
}
