package controller

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// times lists the fields of a struct that hold a length or a reading of the
// boot-time clock, by their path.
func times(v reflect.Value, path string, visit func(path string, v reflect.Value)) {
	switch {
	case v.Type() == reflect.TypeFor[time.Duration]():
		visit(path, v)
	case v.Type() == reflect.TypeFor[time.Time]():
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			times(v.Field(i), path+"."+v.Type().Field(i).Name, visit)
		}
	case v.Kind() == reflect.Slice:
		if v.Len() == 0 && v.Type().Elem().Kind() == reflect.Struct {
			times(reflect.New(v.Type().Elem()).Elem(), path, visit)
			return
		}
		for i := range v.Len() {
			times(v.Index(i), path, visit)
		}
	}
}

// keeps is the whole of a state with a reading of the boot-time clock in every
// place that has one.
func keeps(at time.Duration) (bench, crop, standing) {
	b := bench{
		skips: []Skip{{Asked: at, Due: at}}, tap: Tap{At: at}, stands: []Stand{{From: at, To: at}},
		provenAt: at, elapsedFrom: at, gap: gap{open: true, anchor: at, edge: at + 1},
		pause: pause{on: true, until: at, made: at}, sanitising: sanitising{since: time.Unix(1, 0), at: at, nudge: at},
	}
	return b, crop{since: at}, standing{said: []Said{{At: at}}}
}

// Every reading of the boot-time clock that a bench, a crop or a batch holds over
// a restart is carried along, or is named here with the reason why it is not.
func TestNoTimeOfTheStateIsLeftOutOfTheOneShift(t *testing.T) {
	const at, by = 5 * time.Hour, 7 * time.Hour
	other := []string{
		".skips.Due", ".sanitising.nudge", // ahead: they move by when they came to be
		".gap.assumed", // a length
		".pause.until", // moves by the outage alone
		".pause.made",  // set anew with the pause
	}
	apart := []string{".next", ".queue", ".parked", ".run", ".last"} // calendar, and floods that a restart settles
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
	c := r.control
	c.benches[0], c.crops[0], c.standings[0] = keeps(at)
	c.benches[0].moments(func(m moment) { *m.at += by })
	c.cropMoments(0, func(m moment) { *m.at += by })
	seen := 0
	for _, v := range []any{c.benches[0], c.crops[0], c.standings[0]} {
		times(reflect.ValueOf(v), "", func(path string, v reflect.Value) {
			for _, a := range apart {
				if len(path) > len(a) && path[:len(a)+1] == a+"." {
					return
				}
			}
			if slices.Contains(other, path) && path[:6] == ".pause" || path == ".gap.assumed" {
				return
			}
			seen++
			assert.Contains(t, []time.Duration{at + by, at + by + 1}, time.Duration(v.Int()), "%T%s is carried along by no restart", v, path)
		})
	}
	assert.GreaterOrEqual(t, seen, 13)
}

// What is stored of a bench holds every one of them.
func TestEveryTimeOfTheStateIsStored(t *testing.T) {
	const at = 5 * time.Hour
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
	r.turn()
	r.control.benches[0], r.control.crops[0], r.control.standings[0] = keeps(at)
	st := r.control.State("boot")
	for _, v := range []any{st.Benches["north"], st.Crops["basil_north"]} {
		times(reflect.ValueOf(v), "", func(path string, v reflect.Value) {
			if path == ".PauseLeft" || path == ".GapAssumed" || len(path) > 6 && path[:6] == ".Last." {
				return
			}
			assert.Contains(t, []time.Duration{at, at + 1}, time.Duration(v.Int()), path)
		})
	}
}

// Days without power are missed, whatever floods by elapsed time there were
// before them or came after.
func TestDaysWithoutPowerAreNotFloodedByElapsedTime(t *testing.T) {
	for name, tt := range map[string]struct {
		sameBoot bool
		synced   time.Duration // how long after power came back the clock is trusted
	}{
		"the clock comes at once":       {false, time.Second},
		"after a minute":                {false, time.Minute},
		"after a flood by elapsed time": {false, 2 * time.Hour},
		"in the same boot":              {true, time.Minute},
	} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 06:00")
		r.until("2026-03-02 10:00:00")
		r.now.Trusted = false
		r.until("2026-03-03 10:00:00")
		r.now.Trusted = true
		r.until("2026-03-03 12:00:00")
		s := r.down(72 * time.Hour)
		boot := "boot"
		if !tt.sameBoot {
			boot, r.now.Mono = "another", time.Minute
		}
		r.now.Trusted = false
		r.up(s, boot)
		r.run(tt.synced)
		r.now.Trusted = true
		r.run(3 * time.Hour)
		slots := r.slots()
		for day, reason := range map[int]string{
			3: floodedInstead, 4: "the program or its power was off", 5: "the program or its power was off",
		} {
			f := slots[schedule.CivilOf(2026, 3, day, 9, 0, 0)]
			assert.Equal(t, Missed, f.Outcome, "%s: %d", name, day)
			if !tt.sameBoot || day == 3 {
				assert.Equal(t, reason, f.Reason, "%s: %d", name, day)
			} else {
				assert.NotEqual(t, floodedInstead, f.Reason, "%s: %d", name, day)
			}
		}
	}
}

func TestASlotThatAFloodStoodForRaisesNothing(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 06:00")
	r.until("2026-03-02 10:00:00")
	r.now.Trusted = false
	r.until("2026-03-03 09:30:00")
	r.now.Trusted = true
	r.run(4 * time.Hour)
	f := r.slots()[schedule.CivilOf(2026, 3, 3, 9, 0, 0)]
	require.Equal(t, floodedInstead, f.Reason)
	assert.False(t, r.control.crops[0].trouble)
	assert.Empty(t, r.cropTold())
	assert.Zero(t, r.told("missed"))
	assert.Equal(t, Proven, r.control.benches[0].last.Outcome)
}

// A second restart before the clock is trusted does not lose the first outage.
func TestOutagesInARowAreMeasuredTogether(t *testing.T) {
	for name, again := range map[string]struct {
		off      time.Duration
		sameBoot bool
	}{"a reload": {time.Second, true}, "another power cut": {3 * time.Hour, false}} {
		r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		from := r.now.Wall
		require.NoError(t, r.control.Pause(r.now, 0, from.Add(20*time.Hour), ""))
		s := r.down(5 * time.Hour)
		r.now.Mono, r.now.Trusted = 0, false // the count begins anew, at nothing
		r.up(s, "another")
		r.run(2 * time.Minute)
		s = r.down(again.off)
		boot := "another"
		s.control.Boot = boot
		if !again.sameBoot {
			boot, r.now.Mono = "a third", 0
		}
		r.up(s, boot)
		r.run(time.Minute)
		r.now.Trusted = true
		r.turn()
		since := r.now.Wall.Sub(from) + 50*time.Minute
		assert.InDelta(t, since.Hours()/60, r.control.CropRatio(0), 0.01, name)
		assert.WithinDuration(t, from.Add(20*time.Hour), r.now.Wall.Add(r.control.benches[0].pause.until-r.now.Mono), time.Minute, "%s: the pause ends when it was to", name)
		assert.False(t, r.control.outage.open(), name)
	}
}

func TestTheDateGoesOnOverRestartsWithoutATrustedClock(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 12:00")
	r.run(time.Hour)
	r.now.Trusted = false
	r.run(3 * tomorrow)
	r.restart(2*tomorrow, true)
	r.turn()
	assert.Equal(t, schedule.DateOf(2026, 3, 7), r.control.today(), "two days of an outage whose length is known, too")
}

// The crops are watched also after an outage whose length nobody will ever know.
func TestAnOutageThatCannotBeMeasuredIsToldAndOver(t *testing.T) {
	r := firstStart(t, testSetup(1, 30*time.Hour, "09:00"), time.Unix(0, 0))
	r.run(time.Hour)
	s := r.down(time.Hour)
	r.now.Mono = time.Minute
	r.up(s, "another")
	r.run(time.Minute)
	r.now.Wall, r.now.Trusted = time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC), true
	r.turn()
	assert.False(t, r.control.outage.open())
	r.wantMessage("outage of unknown length")
}

// What is shown of times past follows a clock that is set right.
func TestWallTimesFollowAClockThatIsSetRight(t *testing.T) {
	for _, step := range []time.Duration{10 * 365 * tomorrow, -300 * tomorrow} {
		r := newRig(t, testSetup(1, 60*time.Hour, "09:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		proven := r.control.benches[0].lastProven
		r.stepWall(step)
		r.turn()
		require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(5*time.Hour), ""))
		require.NoError(t, r.control.Sanitise(r.now, 0, ""))
		r.run(time.Minute)
		r.stepWall(-step)
		r.turn()
		s := &r.control.benches[0]
		assert.WithinDuration(t, proven, s.lastProven, time.Second)
		assert.WithinDuration(t, r.now.Wall.Add(5*time.Hour-time.Minute), s.pause.untilWall, 2*time.Second)
		assert.WithinDuration(t, r.now.Wall.Add(-time.Minute), s.sanitising.since, 2*time.Second)
	}
}

// A record whose cursor no trusted clock has come to is set right, and the slots
// up to it are neither doubled nor dropped.
func TestACursorThatNoTrustedClockCameToIsSetRight(t *testing.T) {
	far := schedule.CivilOf(2036, 1, 1, 15, 0, 0)
	past := schedule.CivilOf(2020, 1, 1, 15, 0, 0)
	for name, tt := range map[string]struct {
		cursor  schedule.Civil
		trusted bool // before the restart
		off     time.Duration
		known   bool // a trusted time is on record
	}{
		"ahead, at a restart":                     {far, true, time.Minute, true},
		"ahead, after days without power":         {far, true, 3 * tomorrow, true},
		"ahead, with a clock that comes later":    {far, false, time.Minute, true},
		"ahead, of a record without a date":       {far, false, time.Minute, false},
		"in the past, of a record without a date": {past, false, time.Minute, false},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		s := r.down(tt.off)
		k := s.control.Benches["north"]
		k.Base, k.Cursor, k.Skipped = 0, tt.cursor, tt.cursor
		s.control.Benches["north"] = k
		s.control.Trusted = tt.trusted
		if !tt.known {
			s.control.Known, s.control.Far = time.Time{}, time.Time{}
		}
		r.now.Trusted = tt.trusted
		r.up(s, "boot")
		r.run(time.Minute)
		r.now.Trusted = true
		back := r.now.Wall
		r.run(4 * tomorrow)
		slots := r.slots()
		from := schedule.CivilOf(2026, 3, 2, 9, 0, 0)
		if !tt.known {
			from = schedule.CivilIn(back, dublin)
		}
		for at := from; at < schedule.CivilIn(r.now.Wall.Add(-3*time.Hour), dublin); {
			p, ok := r.control.setup.Calendar.After(0, at)
			require.True(t, ok)
			at = p.Slot.Local
			if at < schedule.CivilIn(r.now.Wall.Add(-3*time.Hour), dublin) {
				assert.Contains(t, slots, at, "%s: %v", name, at)
			}
		}
		assert.LessOrEqual(t, r.outcomes()[Missed], 6, "%s: none that was before all this", name)
	}
}

// A first start in a wrong future takes nothing from the slots of the years
// before it.
func TestSlotsThatAWrongFutureDidNotReachHaveTheirIdentity(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00"), "2036-03-02 08:00")
	r.run(2 * tomorrow)
	r.now.Wall = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	r.run(3 * tomorrow)
	for day := 2; day <= 4; day++ {
		assert.Equal(t, Proven, r.slots()[schedule.CivilOf(2026, 6, day, 9, 0, 0)].Outcome)
	}
}

func TestStretchesOfAWrongFutureAreJoinedAndBounded(t *testing.T) {
	s := &bench{}
	s.live(Stretch{10, 20})
	s.live(Stretch{30, 40})
	s.live(Stretch{20, 25})
	assert.ElementsMatch(t, []Stretch{{10, 25}, {30, 40}}, s.lived)
	s.live(Stretch{5, 35})
	assert.Equal(t, []Stretch{{5, 40}}, s.lived)
	for slot, had := range map[schedule.Civil]bool{5: false, 6: true, 40: true, 41: false} {
		assert.Equal(t, had, s.hadOutcome(slot), slot)
	}
	for i := range schedule.Civil(100) {
		s.live(Stretch{100 + 10*i, 101 + 10*i})
	}
	assert.Len(t, s.lived, maxLived)
	for i := range schedule.Civil(100) {
		assert.True(t, s.hadOutcome(101+10*i), "what had its outcome is never forgotten")
	}
}

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
	assert.Empty(t, r.control.standings[0].said)
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

// A slot that comes again while its flood is under way has that one.
func TestASlotIsNotTakenUpAgainWhileItsFloodIsUnderWay(t *testing.T) {
	for _, at := range []time.Duration{time.Second, 30 * time.Second, 8 * time.Minute, 20 * time.Minute} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.until("2026-03-03 09:00:00")
		r.run(at)
		r.stepWall(3 * time.Hour)
		r.run(20 * time.Second)
		r.stepWall(-3*time.Hour - 2*at)
		r.run(4 * time.Hour)
		assert.Equal(t, 2, r.outcomes()[Proven], "%v into the flood", at)
		assert.InDelta(t, 20, r.pumped[1].Minutes(), 0.4)
		assert.Len(t, r.rows(), 2)
	}
}

func TestASlotIsNotTakenUpAgainWhileItWaits(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-03 08:00:00")
	r.tables[0].lowDry = true
	r.until("2026-03-03 09:00:10")
	r.stepWall(3 * time.Hour)
	r.run(10 * time.Second)
	r.stepWall(-3*time.Hour - time.Minute)
	r.run(5 * time.Minute)
	r.tables[0].lowDry = false
	r.run(4 * time.Hour)
	require.Len(t, r.rows(), 2)
	assert.Equal(t, Proven, r.rows()[1].Outcome)
}

func TestAFloodThatCountedIsAllThatElapsedTimeWanted(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(10 * time.Minute)
	s := r.down(time.Minute)
	r.now.Mono, r.now.Trusted = time.Minute, false
	r.up(s, "another") // an outage of unknown length counts as an interval: a flood is due
	r.run(time.Second)
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.run(20 * time.Hour)
	assert.Len(t, r.rows(), 1, fmt.Sprint(r.rows()))
}

func TestACropForWhichNothingIsPlannedIsToldOfWhenItsTimeIsUp(t *testing.T) {
	r := newRig(t, testSetup(1, 9*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 2)))
	r.until("2026-03-02 18:05:00")
	assert.Empty(t, r.cropTold(), "it is watered, and leaves its bench tonight")
	r.until("2026-03-02 18:10:00")
	r.wantMessage("It has waited longer than it can")
}

// A stop withdraws what waits, one flood for one touch.
func TestAStopWithdrawsAFloodThatWaits(t *testing.T) {
	r := newRig(t, testSetup(2, 48*time.Hour, "09:00"), "2026-03-02 06:00")
	r.run(time.Hour)
	r.storage = false
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.turn()
	require.NoError(t, r.control.Flood(r.now, 1, 0))
	r.turn()
	require.NoError(t, r.control.StopFlood(r.now, 1))
	require.NoError(t, r.control.StopFlood(r.now, 0), "while its intention is recorded")
	r.storage = true
	r.run(90 * time.Minute)
	require.Len(t, r.rows(), 2)
	for _, f := range r.rows() {
		assert.Equal(t, Skipped, f.Outcome)
		assert.Equal(t, "stopped by hand before it began", f.Reason)
	}
	assert.Zero(t, r.pumped[1]+r.pumped[2])
	assert.Empty(t, r.messages)
	assert.ErrorContains(t, r.control.StopFlood(r.now, 1), "its pump is not running and no flood waits")
}

func TestADoubleTouchOfStopWithdrawsOneFlood(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.until("2026-03-02 09:00:10")
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.run(time.Second)
	for range 2 {
		require.NoError(t, r.control.StopFlood(r.now, 0))
	}
	assert.Len(t, r.control.benches[0].queue, 1, "the planned one waits on")
	r.run(doubleTap)
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.tables[0].lowDry = false
	assert.Empty(t, r.starts(3*time.Hour))
	assert.Equal(t, 2, r.outcomes()[Skipped])
}

func TestAFloodThatWasDueBeforeTheLastWateringIsNotMissed(t *testing.T) {
	for name, story := range map[string]func(*rig){
		"a pause, and a flood by hand": func(r *rig) {
			require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(2*tomorrow), ""))
			r.until("2026-03-03 10:00:00")
			require.NoError(t, r.control.Flood(r.now, 0, 0))
		},
		"a step over days": func(r *rig) {
			r.until("2026-03-03 10:00:00")
			r.stepWall(10 * tomorrow)
		},
		"days without power or a clock": func(r *rig) {
			s := r.down(3 * tomorrow)
			r.now.Mono, r.now.Trusted = time.Minute, false
			r.up(s, "another")
			r.run(2 * time.Hour)
			r.now.Trusted = true
		},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		story(r)
		r.run(2 * time.Hour)
		assert.False(t, r.control.crops[0].trouble, name)
		assert.Empty(t, r.cropTold(), name)
	}
}

func TestABenchThatIsEmptiedWhileItsFloodIsAboutToBeginStaysDry(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Buzzer, s.BuzzBefore = len(s.Limits.Outputs), 30*time.Second
	s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "buzzer", Kind: safety.Other, Enable: -1})
	r := newRig(t, s, "2026-03-02 08:00")
	r.until("2026-03-02 09:00:10")
	require.Equal(t, Recording, r.control.benches[0].phase)
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1)))
	r.run(time.Hour)
	assert.Zero(t, r.pumped[1])
	assert.Equal(t, Refused, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
}

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
