package controller

import (
	"strings"
	"testing"
	"time"

	"benchtide/schedule"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAnElapsedFloodStandsForASlotWithinHalfAnInterval(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 12:00") // every 8 h
	r.turn()
	c, s := r.control, &r.control.benches[0]
	slot := schedule.CivilOf(2026, 3, 2, 21, 0, 0)
	p, ok := c.setup.Calendar.After(0, slot-1)
	require.True(t, ok)
	due, half := c.monoOf(p.Due), 4*time.Hour
	for name, tt := range map[string]struct {
		stands []Stand
		is     int
	}{
		"none":                          {nil, -1},
		"just within, before":           {[]Stand{{From: due - half + 1, To: due - half + 1}}, 0},
		"half an interval before":       {[]Stand{{From: due - half, To: due - half}}, -1},
		"half an interval after":        {[]Stand{{From: due + half, To: due + half}}, 0},
		"more after":                    {[]Stand{{From: due + half + 1, To: due + half + 1}}, -1},
		"within a row of floods":        {[]Stand{{From: due - 50*half, To: due + 50*half}}, 0},
		"between two rows":              {[]Stand{{From: due - 50*half, To: due - 9*half}, {From: due + 9*half, To: due + 50*half}}, -1},
		"the slot of its skip, far off": {[]Stand{{From: due + 9*half, To: due + 9*half, Skipped: true, Slot: slot}}, 0},
		"another slot of its skip":      {[]Stand{{From: due + 9*half, To: due + 9*half, Skipped: true, Slot: slot - 1}}, -1},
	} {
		s.stands = tt.stands
		assert.Equal(t, tt.is, c.standFor(0, &p), name)
	}
}

func TestAClockThatWasTwoHoursAheadWasRightEnough(t *testing.T) {
	for _, tt := range []struct {
		ahead  time.Duration
		cursor schedule.Civil // beyond the clock
		back   bool
	}{{rearmBeyond, 1, false}, {rearmBeyond + 1, 1, true}, {rearmBeyond + 1, 0, false}, {rearmBeyond + 1, -1, false}} {
		r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
		r.turn()
		c, s := r.control, &r.control.benches[0]
		here := schedule.CivilIn(r.now.Wall.Add(-time.Second), dublin)
		cursor, base := here+tt.cursor, s.base
		c.clock.far, s.cursor = r.now.Wall.Add(tt.ahead), cursor
		c.rearm()
		if !tt.back {
			assert.Equal(t, cursor, s.cursor, "%+v", tt)
			assert.Empty(t, s.lived, "%+v", tt)
			continue
		}
		assert.Equal(t, here, s.cursor, "%+v", tt)
		assert.Equal(t, here, s.base, "%+v", tt)
		assert.Equal(t, []Stretch{{base, cursor}}, s.lived, "%+v", tt)
	}
}

// A slot that comes a second time needs no flood where the last that counted is
// at most half an interval older, and serves until the slot after it has held,
// however slowly that one fills, and after the turn of the bench before it.
func TestAWateredBenchNeedsNoFloodAtATimeThatComesTwice(t *testing.T) {
	for wait, edge := range map[time.Duration]string{20 * time.Hour: "11:00", 8 * time.Hour: "13:36"} {
		times := []string{"09:00", "15:00", "21:00"}
		r := newRig(t, eachSetup(wait, times, times), "2026-03-02 14:00")
		r.turn()
		c := r.control
		at := c.monoOf(schedule.CivilOf(2026, 3, 2, 0, 0, 0).In(dublin).Add(time.Duration(timeOfDay(t, edge)) * time.Second))
		slot := schedule.CivilOf(2026, 3, 2, 15, 0, 0)
		p, ok := c.setup.Calendar.After(1, slot-1)
		require.True(t, ok)
		c.crops[0].since = 0 // the other bench's
		for since, watered := range map[time.Duration]bool{at: true, at - 1: false} {
			c.crops[1].since = since
			assert.Equal(t, watered, c.wateredFor(1, &p), "can wait %v", wait)
		}
	}
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 13:00")
	r.turn()
	r.control.benches[0].live(Stretch{0, schedule.CivilOf(2026, 3, 2, 15, 0, 0)})
	r.until("2026-03-02 15:05:00")
	assert.Empty(t, r.rows(), "the last of them does not need one either")
}

func TestByElapsedTimeNothingFloodsAnEmptyBenchOrQueuesTwice(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1)))
	r.now.Trusted = false
	r.run(2 * tomorrow)
	assert.Empty(t, r.rows())

	var hourly []string
	for h := range 24 {
		hourly = append(hourly, time.Date(2026, 3, 2, h, 30, 0, 0, time.UTC).Format("15:04"))
	}
	r = newRig(t, testSetup(1, 40*time.Hour, hourly...), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.now.Trusted = false
	r.run(2*time.Hour + 30*time.Minute)
	assert.Len(t, r.control.benches[0].queue, 1)
}

func TestTheDateGoesOnFromTheLastTrustedOne(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
	r.run(4 * tomorrow)
	r.now.Trusted = false
	r.stepWall(-500 * tomorrow)
	r.run(6 * time.Hour)
	assert.Equal(t, schedule.DateOf(2026, 3, 6), r.control.today())
	r.run(8 * time.Hour)
	assert.Equal(t, schedule.DateOf(2026, 3, 7), r.control.today())
}

func TestAnElapsedFloodFollowsTheStageThatItsDateHasComeTo(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-09 12:00") // one a day until the 11th, then two
	r.run(time.Hour)
	r.now.Trusted = false
	r.run(5 * tomorrow)
	n := 0
	for _, f := range r.rows() {
		require.Equal(t, ByElapsed, f.Cause)
		if f.Started.After(time.Date(2026, 3, 12, 0, 0, 0, 0, time.UTC)) {
			n++
		}
	}
	assert.GreaterOrEqual(t, n, 5, "two a day for two and a half days")
}

func TestAFirstStartWithoutADateTakesEveryBatchAsOnItsBench(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Plans[0].Stages[0].FromDay = 5
	s.remake()
	r := newRig(t, s, "1970-01-01 00:00")
	r.now.Trusted = false
	var err error
	r.control, err = New(s, r.now)
	require.NoError(t, err)
	r.run(2*tomorrow + time.Hour)
	assert.Len(t, r.rows(), 2)
	assert.Equal(t, schedule.DateOf(2026, 3, 6), r.control.firstDay())
}

func TestOnlyAStepOfMoreThanTwoSecondsIsOne(t *testing.T) {
	for step, is := range map[time.Duration]int{stepLimit: 0, stepLimit + 1: 1, -stepLimit: 0, -stepLimit - 1: 1} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.turn()
		r.stepWall(step)
		r.turn()
		assert.Equal(t, is, countKind(r, ClockStepped), step)
	}
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

func TestEachTimeThatTheClockLosesTrustIsTold(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 10:00")
	for n := range 3 {
		r.now.Trusted = false
		r.run(time.Hour)
		told := strings.Join(r.messages, "\n")
		assert.Equal(t, n+1, strings.Count(told, "The clock is not trusted."), told)
		r.now.Trusted = true
		r.run(time.Hour)
	}
}

// Days in which nothing could flood bring one flood by elapsed time, and not one
// after the other.
func TestElapsedTimeMakesUpForNoDaysThatArePast(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.run(3 * tomorrow)
	before := len(r.rows())
	r.now.Trusted = false
	r.run(12 * time.Hour)
	assert.Len(t, r.rows(), before+1)
}

func TestTheFirstDayIsThatOfTheBatchsOwnPlan(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	later := testSetup(1, 48*time.Hour, "09:00").Plans[0]
	later.Stages[0].FromDay = 5
	s.Plans = append(s.Plans, later)
	s.Batches[0].Plan = 1
	s.remake()
	assert.Equal(t, schedule.DateOf(2026, 3, 6), newRig(t, s, "2026-03-02 08:00").control.firstDay())
}
