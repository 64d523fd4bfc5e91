package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

func passages(k *progress) (all []int) {
	for _, s := range k.said {
		all = append(all, s.Passage)
	}
	return all
}

func TestAWordTakesThePlaceOfTheOneBefore(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-05 12:00")
	r.turn()
	c := r.control
	k := &c.progress[0]
	c.say(0, 2, 0)
	c.say(0, 1, 0)
	c.say(0, 2, 5)
	assert.Equal(t, []int{1, 2}, passages(k))
	assert.False(t, k.said[1].Doubt)
	r.now.Trusted = false
	r.turn()
	c.say(0, 2, 0)
	assert.True(t, k.said[1].Doubt)
}

// A last day about today goes with the clock; one that is further off is a date.
func TestALastDayAboutTodayIsAWord(t *testing.T) {
	today := schedule.DateOf(2026, 3, 5)
	for days, word := range map[schedule.Date]bool{-30: false, -2: false, -1: true, 0: true, 1: true, 2: false} {
		r := newRig(t, stagedSetup(false), "2026-03-05 12:00")
		r.turn()
		c := r.control
		c.say(0, 1, 0)
		c.say(0, lastDay, 0)
		assert.Equal(t, today+days, c.sayClosed(0, today+days))
		want := []int{1}
		if word {
			want = []int{1, lastDay}
			assert.Equal(t, days, c.progress[0].said[1].Days)
		}
		assert.Equal(t, want, passages(&c.progress[0]), "%d days off", days)
	}
}

func TestAWordMovesWithAClockThatIsSet(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-05 12:00")
	r.turn()
	c := r.control
	read := r.now.Wall
	k := &c.progress[0]
	k.said = []Said{
		{At: r.now.Mono, Read: read.Add(slewed), Doubt: true, Passage: 0},
		{At: r.now.Mono, Read: read.Add(48 * time.Hour), Passage: lastDay, Days: -1},
		{At: r.now.Mono, Read: read.Add(48 * time.Hour), Passage: 0}, // of a passage that is no more
	}
	k.closed = schedule.DateOf(2026, 3, 6)
	c.keepWord(0)
	assert.Equal(t, read.Add(slewed), k.said[0].Read, "as near as clocks run")
	assert.False(t, k.said[0].Doubt, "the clock is trusted now")
	assert.Equal(t, schedule.DateOf(2026, 3, 4), k.closed, "the day before the word")
	assert.Equal(t, k.closed, c.setup.Batches[0].Closed)
	_, ok := c.setup.Calendar.After(0, schedule.CivilOf(2026, 3, 4, 23, 0, 0))
	assert.False(t, ok, "and nothing floods after it")

	r.now.Trusted = false
	r.turn()
	k.said = []Said{{At: r.now.Mono, Read: r.now.Wall, Doubt: true, Passage: lastDay}}
	c.keepWord(0)
	assert.True(t, k.said[0].Doubt)
}

func TestAFloodUnderWayMayCountUntilItIsStoppedInTheFill(t *testing.T) {
	for name, tt := range map[string]struct {
		s   bench
		may bool
	}{
		"none":                          {bench{}, false},
		"it fills":                      {bench{phase: Filling}, true},
		"stopped in the fill":           {bench{phase: Filling, run: run{person: "stopped"}}, false},
		"stopped in the hold":           {bench{phase: Holding, run: run{person: "stopped", seenFull: true}}, true},
		"it has ended without counting": {bench{phase: Draining, run: run{seenStop: true, seenFull: true}}, false},
		"it counted":                    {bench{phase: Draining, run: run{seenStop: true, job: job{flood: Flood{Counted: true}}}}, true},
	} {
		assert.Equal(t, tt.may, tt.s.mayCount(), name)
	}
}

func TestStretchesThatTouchAreOne(t *testing.T) {
	for _, order := range [][]Stretch{{{1, 5}, {5, 9}}, {{5, 9}, {1, 5}}} {
		var s bench
		for _, k := range order {
			s.live(k)
		}
		assert.Equal(t, []Stretch{{1, 9}}, s.lived)
	}
	var s bench
	s.live(Stretch{1, 5})
	s.live(Stretch{6, 9})
	assert.Len(t, s.lived, 2)
}

// Sanitising of an older record has no reading of the boot-time clock to move.
func TestSanitisingOfAnOlderRecordKeepsItsDate(t *testing.T) {
	visits := func(s bench) (n int) {
		s.clockReadings(func(clockReading) { n++ })
		return n
	}
	old := sanitising{since: hour(9)}
	assert.Equal(t, visits(bench{}), visits(bench{sanitising: old}))
	old.at = time.Hour
	assert.Equal(t, visits(bench{})+2, visits(bench{sanitising: old}))

	c := scales(t, nil)
	c.benches[0].sanitising = sanitising{since: hour(2)}
	c.redate(0)
	assert.Equal(t, hour(2), c.benches[0].sanitising.since)

	st := c.State("boot")
	again, err := Resume(c.setup, c.now, st, "boot")
	require.NoError(t, err)
	assert.Equal(t, c.now.Mono+sanitisingEvery, again.benches[0].sanitising.nudge, "a person is reminded a day after the restart")
}

func TestOlderRecordsNameOneSlotThatWasLeftOutOrLived(t *testing.T) {
	var s bench
	s.restore(&BenchState{})
	assert.Empty(t, s.lived)
	assert.Empty(t, s.leftOut)
	s.restore(&BenchState{Relived: 5, Skipped: 7})
	assert.Equal(t, []Stretch{{0, 5}}, s.lived)
	assert.Equal(t, []schedule.Civil{7}, s.leftOut)
}

func TestASlotIsReadOrSaysHowToWriteIt(t *testing.T) {
	_, err := SlotOf("tomorrow")
	assert.ErrorContains(t, err, "write it as the status has it")
	slot, err := SlotOf("2026-03-12T15:00:00+00:00")
	require.NoError(t, err)
	assert.Equal(t, schedule.CivilOf(2026, 3, 12, 15, 0, 0), slot)
}

// A program that starts with a cursor of years ago comes to the slots of today.
func TestEmptyYearsArePassedOver(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00"), "2026-03-02 08:00")
	s := &r.control.benches[0]
	s.cursor, s.hasSlot, s.nextRead = schedule.CivilOf(2016, 1, 1, 9, 0, 0), true, false
	p, ok := r.control.nextSlot(0)
	require.True(t, ok)
	assert.Equal(t, schedule.CivilOf(2026, 3, 1, 9, 0, 0), p.Slot.Local, "of the day on which its batch came")
	assert.False(t, s.cursor.Date() > schedule.DateOf(2026, 3, 2))
}

// A flood asked for ends what a second touch of stop would mean, and no other touch.
func TestAFloodByHandEndsTheTouchOfAStopAlone(t *testing.T) {
	for act, kept := range map[string]bool{tapStop: false, tapSkip: true} {
		r := newRig(t, testSetup(1, 100*time.Hour, "21:00"), "2026-03-02 08:00")
		r.run(time.Hour)
		r.control.benches[0].tap = Tap{Act: act, At: r.now.Mono}
		require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
		assert.Equal(t, kept, r.control.benches[0].tap.Act == act, act)
	}
}

// Slots that were left out on a bench that floods no more are nobody's.
func TestSlotsLeftOutBehindTheLastOneAreLeftAlone(t *testing.T) {
	s := testSetup(1, 100*time.Hour, "09:00")
	s.Batches[0].Closed = schedule.DateOf(2026, 3, 3)
	s.remake()
	r := newRig(t, s, "2026-03-04 08:00")
	r.turn()
	far := schedule.CivilOf(2026, 3, 9, 9, 0, 0)
	r.control.benches[0].leftOut = []schedule.Civil{far}
	r.control.forgetLeftOut(0, schedule.CivilOf(2026, 3, 4, 8, 0, 0))
	assert.Equal(t, []schedule.Civil{far}, r.control.benches[0].leftOut)
	k := Skip{Slot: far, Named: far}
	assert.True(t, r.control.bind(0, &k), "nor is a skip over while no flood is in sight")
	assert.Equal(t, far, k.Slot)
}

func TestSlotsLeftOutBehindAFloodFloodAgain(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00"), "2026-03-02 08:00")
	r.turn()
	nine, noon := civil("2026-03-02 09:00"), civil("2026-03-02 12:00")
	r.control.benches[0].leftOut = []schedule.Civil{nine, noon}
	r.control.forgetLeftOut(0, civil("2026-03-02 08:00"))
	assert.Equal(t, []schedule.Civil{nine}, r.control.benches[0].leftOut)
}

// A step that undoes nothing brings no cursor back.
func TestAStepThatUndoesNothingMovesNoSlots(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00"), "2026-03-02 10:00")
	r.turn()
	s := &r.control.benches[0]
	was := s.cursor
	s.before = Stretch{1, was + 100000}
	assert.False(t, r.control.stepUndone(-3*time.Hour))
	assert.Equal(t, was, s.cursor)
	assert.Zero(t, s.before)
}

func TestOnlyASkipIsAheadOfACropAsOne(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00"), "2026-03-02 08:00")
	r.turn()
	assert.False(t, r.control.ahead(0).skips)
	r.skip()
	assert.True(t, r.control.ahead(0).skips)
}

// A program that stops counts what stood long enough, of the flood that it runs.
func TestAProgramThatStopsCountsAHoldThatWasLongEnough(t *testing.T) {
	for name, tt := range map[string]struct {
		until   string
		attempt int
		counted bool
	}{
		"late in the hold":  {"2026-03-02 09:08:30", 0, true},
		"early in the hold": {"2026-03-02 09:04:30", 0, false},
		"another attempt":   {"2026-03-02 09:08:30", 1, false},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00"), "2026-03-02 08:00")
		r.until(tt.until)
		require.Equal(t, Holding, r.control.benches[0].phase, name)
		r.control.benches[0].run.flood.Attempt = tt.attempt
		r.control.Shutdown(r.now)
		assert.Equal(t, tt.counted, r.control.benches[0].run.flood.Counted, name)
	}
}
