package controller

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
func keeps(at time.Duration) (bench, cropClock, progress) {
	b := bench{
		skips: []Skip{{Asked: at, Due: at}}, tap: Tap{At: at}, stoppedNear: at, stands: []Stand{{From: at, To: at}},
		provenAt: at, elapsedFrom: at, gap: gap{open: true, anchor: at, edge: at + 1, later: []Lapse{{End: at}}},
		pause: pause{on: true, until: at, made: at}, sanitising: sanitising{since: time.Unix(1, 0), at: at, nudge: at},
	}
	return b, cropClock{since: at}, progress{said: []Said{{At: at}}}
}

// Every reading of the boot-time clock that a bench, a crop or a batch holds over
// a restart is carried along, or is named here with the reason why it is not.
func TestNoTimeOfTheStateIsLeftOutOfTheOneShift(t *testing.T) {
	const at, by = 5 * time.Hour, 7 * time.Hour
	other := []string{
		".skips.Due", ".sanitising.nudge", // ahead: they move by when they came to be
		".gap.assumed", ".gap.later.Assumed", // lengths
		".pause.until", // moves by the outage alone
		".pause.made",  // set anew with the pause
	}
	apart := []string{".next", ".queue", ".parked", ".run", ".last"} // calendar, and floods that a restart settles
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
	c := r.control
	c.benches[0], c.crops[0], c.progress[0] = keeps(at)
	c.benches[0].clockReadings(func(m clockReading) { *m.at += by })
	c.cropClockReadings(0, func(m clockReading) { *m.at += by })
	seen := 0
	for _, v := range []any{c.benches[0], c.crops[0], c.progress[0]} {
		times(reflect.ValueOf(v), "", func(path string, v reflect.Value) {
			for _, a := range apart {
				if len(path) > len(a) && path[:len(a)+1] == a+"." {
					return
				}
			}
			if slices.Contains(other, path) && path[:6] == ".pause" || path == ".gap.assumed" || path == ".gap.later.Assumed" {
				return
			}
			seen++
			assert.Contains(t, []time.Duration{at + by, at + by + 1}, time.Duration(v.Int()), "%T%s is carried along by no restart", v, path)
		})
	}
	assert.GreaterOrEqual(t, seen, 14)
}

// What is stored of a bench holds every one of them.
func TestEveryTimeOfTheStateIsStored(t *testing.T) {
	const at = 5 * time.Hour
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
	r.turn()
	r.control.benches[0], r.control.crops[0], r.control.progress[0] = keeps(at)
	st := r.control.State("boot")
	for _, v := range []any{st.Benches["north"], st.Crops["basil_north"]} {
		times(reflect.ValueOf(v), "", func(path string, v reflect.Value) {
			if path == ".PauseLeft" || path == ".GapAssumed" || path == ".GapLater.Assumed" || len(path) > 6 && path[:6] == ".Last." {
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

// What was said of the batches of one bench is forgotten for these alone.
func TestWordsThatCannotBeDatedAreForgottenOfTheirBenchAlone(t *testing.T) {
	r := newRig(t, testSetup(2, 60*time.Hour, "09:00"), "2026-03-02 08:00")
	c := r.control
	for i := range c.progress {
		c.progress[i].said = []Said{{Passage: 0}, {Passage: 1, Doubt: true}}
	}
	c.forgetWords(0, &gap{})
	assert.Equal(t, []Said{{Passage: 1, Doubt: true}}, c.progress[0].said)
	assert.Len(t, c.progress[1].said, 2)
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

func TestAPictureKeepsTheDatesThatItWasTakenWith(t *testing.T) {
	r := newRig(t, stagedSetup(true), "2026-03-09 12:00")
	r.stepWall(10 * 365 * tomorrow)
	r.turn()
	require.NoError(t, r.control.Advance(r.now, 0, 1-r.control.stageNow(0)))
	r.turn()
	picture, state := r.status(), r.control.State("boot")
	wrong := schedule.CivilIn(r.now.Wall, dublin).Date()
	r.stepWall(-10 * 365 * tomorrow)
	r.turn()
	require.Equal(t, schedule.DateOf(2026, 3, 9), r.control.setup.Batches[0].Passages[0].On)
	assert.Equal(t, wrong, picture.Batches[0].Passages[0].On, "others look at it meanwhile")
	assert.Equal(t, wrong, state.Crops[r.setup.Batches[0].Name].Passages[0].On)
}

// What happened between two outages of unknown length was no longer ago than both
// together can have lasted.
func TestAFloodBetweenTwoOutagesIsAsOldAsItIs(t *testing.T) {
	for _, outages := range []int{1, 2, maxLapses + 3} {
		r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		r.until("2026-03-02 08:30:00")
		s := r.down(time.Minute)
		r.now.Mono, r.now.Trusted = time.Minute, false
		r.up(s, "boot 0")
		r.run(time.Minute)
		require.NoError(t, r.control.Flood(r.now, 0, 0))
		r.run(time.Hour)
		require.Equal(t, 1, r.outcomes()[Proven])
		for n := range outages {
			s := r.down(time.Minute)
			r.now.Mono = time.Minute
			r.up(s, []string{"even", "odd"}[n%2])
		}
		r.now.Trusted = true
		r.turn()
		assert.InDelta(t, 1.0/30, r.control.CropRatio(0), 0.02, "%d outages", outages)
		assert.Empty(t, r.cropTold(), "%v", r.messages)
	}
}

// A flood by elapsed time that waits when the program ends goes on waiting
// after it: it is neither lost for an interval nor written down anew at each
// restart.
func TestAFloodByElapsedTimeOutlivesARestart(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.now.Trusted = false
	r.guard.SetHandsIn(r.now, true)
	r.run(12 * time.Hour) // its interval passed meanwhile
	require.NotEmpty(t, r.control.benches[0].queue)
	id := r.control.benches[0].queue[0].flood.ID
	for range 3 {
		r.restart(time.Minute, true)
		r.turn()
	}
	require.Len(t, r.control.benches[0].queue, 1)
	assert.Equal(t, id, r.control.benches[0].queue[0].flood.ID)
	r.guard.SetHandsIn(r.now, false)
	r.run(time.Hour)
	assert.Equal(t, Proven, r.floods[id].Outcome)
	assert.Zero(t, r.outcomes()[Missed])
}

// A flood that was proven while the clock was wrong gets its date; where none was
// proven there is none to set right.
func TestTheLastProvenFloodOfAWrongClockGetsItsDate(t *testing.T) {
	for _, floods := range []bool{true, false} {
		r := newRig(t, testSetup(1, 60*time.Hour, "21:00"), "2026-03-02 08:00")
		r.run(time.Hour)
		r.stepWall(-300 * tomorrow)
		r.run(time.Minute)
		if floods {
			require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
		}
		r.run(time.Hour)
		r.stepWall(300 * tomorrow)
		r.turn()
		if at := r.control.benches[0].lastProven; floods {
			assert.WithinDuration(t, r.now.Wall, at, time.Hour)
		} else {
			assert.Zero(t, at)
		}
	}
}
