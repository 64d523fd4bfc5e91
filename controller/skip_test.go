package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// outcomes counts the floods of a rig, but not slots that another one stood for.
func (r *rig) outcomes() map[Outcome]int {
	n := map[Outcome]int{}
	for _, f := range r.rows() {
		if !f.StoodFor() {
			n[f.Outcome]++
		}
	}
	return n
}

func (r *rig) skip() schedule.Planned {
	r.t.Helper()
	p, err := r.control.SkipNext(r.now, 0)
	require.NoError(r.t, err)
	return p
}

// firstStart is a rig whose program starts for the first time without a trusted
// clock, which shows wall.
func firstStart(t *testing.T, s Setup, wall time.Time) *rig {
	now := safety.Now{Mono: time.Minute, Wall: wall}
	c, err := New(s, now)
	require.NoError(t, err)
	r := &rig{t: t, setup: s, now: now, control: c, storage: true}
	r.guard = safety.New(s.Limits, safety.State{}, now, "boot")
	r.init()
	return r
}

// The next flood is left out, once, whatever becomes of the clock, the power and
// the program between the asking and its time.
func TestASkipLeavesOutTheNextFloodOnceWhateverTheClockDoes(t *testing.T) {
	const year = 365 * tomorrow
	doubt := func(d time.Duration) func(*rig) {
		return func(r *rig) {
			r.now.Trusted = false
			r.run(d)
			r.now.Trusted = true
		}
	}
	for name, tt := range map[string]struct {
		disturb func(*rig)
		left    time.Duration // when the flood that is left out was to start, from the skip at 10:00 on
	}{
		"nothing":                           {func(*rig) {}, 5 * time.Hour},
		"a second forward":                  {func(r *rig) { r.stepWall(3 * time.Second) }, 5 * time.Hour},
		"an hour forward":                   {func(r *rig) { r.stepWall(time.Hour) }, 4 * time.Hour},
		"to its time":                       {func(r *rig) { r.stepWall(5 * time.Hour) }, 0},
		"to when it is late":                {func(r *rig) { r.stepWall(6 * time.Hour) }, 0},
		"past it":                           {func(r *rig) { r.stepWall(8 * time.Hour) }, 0}, // it is over, and that of the morning comes
		"days and two hours":                {func(r *rig) { r.stepWall(10*tomorrow + 2*time.Hour) }, 3 * time.Hour},
		"days forward, to one that is late": {func(r *rig) { r.stepWall(10 * tomorrow) }, 0},
		"a year forward":                    {func(r *rig) { r.stepWall(year) }, 0},
		"an hour back":                      {func(r *rig) { r.stepWall(-time.Hour) }, 6 * time.Hour},
		"hours back, to a flood past":       {func(r *rig) { r.stepWall(-3 * time.Hour) }, 8 * time.Hour},
		"a restart":                         {func(r *rig) { r.restart(time.Minute, true) }, 5 * time.Hour},
		"another boot":                      {func(r *rig) { r.restart(time.Minute, false) }, 5 * time.Hour},
		"a boot without a clock":            {func(r *rig) { r.bootWithoutClock(20*time.Minute, time.Minute) }, 5 * time.Hour},
		"an hour of doubt":                  {doubt(time.Hour), 5 * time.Hour},
		"doubt until it was due":            {doubt(6 * time.Hour), 5 * time.Hour},
		"doubt and a day's step": {func(r *rig) {
			r.now.Trusted = false
			r.run(time.Hour)
			r.stepWall(tomorrow)
			r.now.Trusted = true
		}, 5 * time.Hour},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-12 08:00")
		r.run(2 * time.Hour)
		asked := r.now.Mono
		p := r.skip()
		require.Equal(t, "2026-03-12T15:00", p.Slot.Local.String())
		wall := r.now.Wall
		tt.disturb(r)
		// What passed since the skip, told by the boot-time clock or, over another
		// boot, by a wall clock that did not step.
		passed := r.now.Mono - asked
		if passed < 0 {
			passed = r.now.Wall.Sub(wall)
		}
		base := r.now.Mono - passed
		starts := r.starts(tt.left + 20*time.Minute - passed)
		assert.Empty(t, starts, "%s: nothing floods before the one after it", name)
		starts = r.starts(21 * time.Hour)
		require.NotEmpty(t, starts, "%s: the one after it floods", name)
		assert.LessOrEqual(t, starts[0]-base-tt.left, 18*time.Hour+30*time.Minute, name)
		assert.Equal(t, 1, r.outcomes()[Skipped], name)
		r.run(3 * tomorrow)
		assert.Equal(t, 1, r.outcomes()[Skipped], "%s: once", name)
		r.slots()
	}
}

func TestASkipBeforeTheClockWasEverTrusted(t *testing.T) {
	for name, start := range map[string]time.Time{
		"future": time.Date(2036, 1, 1, 10, 0, 0, 0, time.UTC),
		"past":   time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC),
		"1970":   time.Unix(0, 0).UTC(),
	} {
		for _, wait := range []time.Duration{20 * time.Minute, 14 * time.Hour} {
			r := firstStart(t, testSetup(1, 50*time.Hour, "09:00", "15:00"), start)
			r.run(time.Minute)
			assert.Zero(t, r.skip().Slot.Local, "%s: there is no date to name it by", name)
			r.run(wait)
			r.now.Wall, r.now.Trusted = time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC), true
			r.run(5 * tomorrow)
			n := r.outcomes()
			assert.Equal(t, 1, n[Skipped], name)
			assert.Equal(t, 0, n[Missed], name)
			assert.GreaterOrEqual(t, n[Proven], 9, name)
			p, ok := r.control.nextFlood(0)
			require.True(t, ok)
			assert.Equal(t, 2026, p.Slot.Local.Date().Year(), name)
		}
	}
}

func TestASkipByElapsedTimeStandsForTheSlotOfItsTime(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.now.Trusted = false
	r.turn()
	r.skip()
	r.until("2026-03-02 21:30:00")
	require.Equal(t, 1, r.outcomes()[Skipped], "at its time by elapsed time")
	r.now.Trusted = true
	r.turn()
	slot := r.slots()[schedule.CivilOf(2026, 3, 2, 21, 0, 0)]
	assert.Equal(t, Skipped, slot.Outcome)
	r.until("2026-03-03 09:30:00")
	assert.Equal(t, Proven, r.slots()[schedule.CivilOf(2026, 3, 3, 9, 0, 0)].Outcome)
}

func TestAFloodSkippedByTheCalendarIsNotMadeUpForByElapsedTime(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.skip()
	r.until("2026-03-02 21:05:00")
	r.now.Trusted = false
	assert.Empty(t, r.starts(11*time.Hour))
	assert.Len(t, r.starts(2*time.Hour), 1)
}

func TestADoubleTapSkipsOnce(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.until("2026-03-02 08:59:50")
	first := r.skip()
	assert.Equal(t, first.Slot, r.skip().Slot)
	r.run(20 * time.Second) // its time passes between two touches
	assert.Equal(t, first.Slot, r.skip().Slot)
	assert.Equal(t, first.Due, r.skip().Due)
	r.restart(time.Second, true)
	assert.Equal(t, first.Slot, r.skip().Slot)
	r.run(tomorrow)
	assert.Equal(t, 1, r.outcomes()[Skipped])
}

func TestTwoFloodsCanBeSkippedAndMoreWantAPause(t *testing.T) {
	for _, trusted := range []bool{true, false} {
		r := newRig(t, testSetup(1, 200*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		r.now.Trusted = trusted
		r.turn()
		first := r.skip()
		r.run(doubleTap)
		second := r.skip()
		assert.True(t, second.Due.After(first.Due))
		r.run(doubleTap)
		_, err := r.control.SkipNext(r.now, 0)
		assert.ErrorContains(t, err, "skip on north: its next two floods are skipped already; pause it")
		assert.Empty(t, r.starts(16*time.Hour))
		assert.NotEmpty(t, r.starts(12*time.Hour))
		assert.Equal(t, 2, r.outcomes()[Skipped])
	}
}

func TestASlotThatIsNamedIsMeantAndNoOther(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.turn()
	nine, three := schedule.CivilOf(2026, 3, 2, 9, 0, 0), schedule.CivilOf(2026, 3, 2, 15, 0, 0)
	_, err := r.control.SkipSlot(r.now, 0, three)
	assert.ErrorContains(t, err, "the flood of 2026-03-02 15:00 is not the next one, that is Mon 2 Mar 09:00")
	for range 3 {
		p, err := r.control.SkipSlot(r.now, 0, nine)
		require.NoError(t, err)
		assert.Equal(t, nine, p.Slot.Local)
	}
	assert.Len(t, r.control.benches[0].skips, 1)
	r.until("2026-03-02 09:00:01")
	_, err = r.control.SkipSlot(r.now, 0, nine)
	assert.ErrorContains(t, err, "is not the next one")
	_, err = r.control.SkipSlot(r.now, 0, three)
	assert.NoError(t, err)
	assert.Equal(t, three, r.skip().Slot.Local, "a second touch, by whatever button")
	r.now.Trusted = false
	r.turn()
	_, err = r.control.SkipSlot(r.now, 0, schedule.CivilOf(2026, 3, 3, 9, 0, 0))
	assert.ErrorContains(t, err, "look again")
	assert.NotContains(t, err.Error(), "that is", "by elapsed time no slot is named")
}

func TestASkipCanBeTakenBackUntilItsTime(t *testing.T) {
	for _, trusted := range []bool{true, false} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		r.now.Trusted = trusted
		r.turn()
		_, err := r.control.UndoSkip(r.now, 0, 0)
		assert.ErrorContains(t, err, "undo a skip on north: no flood to come is skipped")
		first := r.skip()
		r.run(doubleTap)
		second := r.skip()
		for range 2 { // a double touch takes one back
			p, err := r.control.UndoSkip(r.now, 0, 0)
			require.NoError(t, err)
			assert.Equal(t, second.Slot, p.Slot)
			assert.WithinDuration(t, second.Due, p.Due, time.Second)
		}
		r.run(doubleTap)
		p, err := r.control.UndoSkip(r.now, 0, 0)
		require.NoError(t, err)
		assert.Equal(t, first.Slot, p.Slot)
		assert.Len(t, r.starts(12*time.Hour), 1)
		assert.Zero(t, r.outcomes()[Skipped])
	}
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.turn()
	slot := r.skip().Slot.Local
	r.until("2026-03-02 09:00:00")
	_, err := r.control.UndoSkip(r.now, 0, slot)
	assert.ErrorContains(t, err, "no flood to come is skipped at 2026-03-02 09:00")
}

// What waits for its turn is the next flood, and its time has come.
func TestASkipLeavesOutAFloodThatWaits(t *testing.T) {
	for name, wait := range map[string]func(*rig){
		"for water":    func(r *rig) { r.tables[0].lowDry = true },
		"for a person": func(r *rig) { r.guard.SetHandsIn(r.now, true) },
		"for storage":  func(r *rig) { r.storage = false },
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		r.until("2026-03-02 08:59:00")
		wait(r)
		r.until("2026-03-02 09:00:01")
		assert.Equal(t, schedule.CivilOf(2026, 3, 2, 9, 0, 0), r.skip().Slot.Local, name)
		r.tables[0].lowDry, r.storage = false, true
		r.guard.SetHandsIn(r.now, false)
		assert.Empty(t, r.starts(5*time.Hour), name)
		assert.Len(t, r.starts(2*time.Hour), 1, name)
		assert.Equal(t, Skipped, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome, name)
	}
}

// The crop clock goes on over a skip that was wanted, and speaks when its time
// runs short.
func TestASkipRaisesNothingUntilTheCropRunsShort(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00") // watered at 09:10; the one after the next comes after 48 h
	r.skip()
	r.until("2026-03-03 14:59:00")
	assert.Empty(t, r.messages)
	assert.Equal(t, 1, r.outcomes()[Skipped])
	assert.Equal(t, Proven, r.control.benches[0].last.Outcome, "one that never ran is not the last")
	r.until("2026-03-03 15:30:00")
	r.wantMessage("Its flood was skipped by hand, and the next one comes too late.")
	r.until("2026-03-04 01:30:00")
	r.wantMessage("It has waited longer than it can")
	for _, f := range r.rows() {
		assert.NotEqual(t, ByCatchUp, f.Cause)
	}
}

func TestNoCatchUpMakesUpForASkip(t *testing.T) {
	for name, occasion := range map[string]func(*rig){
		"hands-in": func(r *rig) {
			r.guard.SetHandsIn(r.now, true)
			r.run(time.Minute)
			r.guard.SetHandsIn(r.now, false)
		},
		"a step":    func(r *rig) { r.stepWall(10 * time.Minute) },
		"a restart": func(r *rig) { r.restart(5*time.Minute, true) },
	} {
		for _, after := range []bool{false, true} {
			r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
			r.until("2026-03-02 10:00:00")
			r.skip()
			if after {
				r.until("2026-03-03 09:30:00")
			}
			occasion(r)
			assert.Empty(t, r.starts(6*time.Hour), "%s, after its time %v", name, after)
		}
	}
}

// What is put back on a bench finds what was skipped, until its time is over.
func TestASkipOutlastsAnEmptyBench(t *testing.T) {
	for back, floods := range map[string]string{"2026-03-02 08:30:00": "2026-03-02 15:00", "2026-03-02 10:00:00": "2026-03-02 15:00"} {
		for _, restarted := range []bool{false, true} {
			r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
			r.turn()
			r.skip()
			_, err := r.control.Empty(r.now, 0)
			require.NoError(t, err)
			var st Status
			r.turn()
			r.control.StatusInto(&st)
			assert.Empty(t, st.Benches[0].Skipped, "nothing floods that could be skipped")
			assert.False(t, st.Benches[0].HasNext)
			if restarted {
				r.restart(time.Minute, true)
			}
			r.until(back)
			require.NoError(t, r.control.Close(r.now, 0, 0))
			r.turn()
			starts := r.starts(7 * time.Hour)
			require.Len(t, starts, 1, back)
			assert.Equal(t, Proven, r.slots()[civil(floods)].Outcome, "reopened at %s", back)
			assert.Empty(t, r.control.benches[0].skips)
		}
	}
}

func TestASkipFollowsAPlanThatIsAnother(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	r.skip()
	s := r.down(time.Minute)
	r.setup = testSetup(1, 40*time.Hour, "11:00", "17:00")
	r.up(s, "boot")
	assert.Empty(t, r.starts(8*time.Hour), "it is 11:00 now")
	assert.Len(t, r.starts(2*time.Hour), 1)
}

func TestTheNextFloodIsOneThatWillRun(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "19:00"), "2026-03-12 08:00")
	var st Status
	next := func() string {
		r.turn()
		r.control.StatusInto(&st)
		require.True(t, st.Benches[0].HasNext)
		return st.Benches[0].Next.Slot.Local.String()
	}
	r.until("2026-03-12 10:00:00")
	assert.Equal(t, "2026-03-12T19:00", next())
	r.skip()
	assert.Equal(t, "2026-03-13T09:00", next())
	require.Len(t, st.Benches[0].Skipped, 1)
	assert.Equal(t, "2026-03-12T19:00", st.Benches[0].Skipped[0].Slot.Local.String())
	r.until("2026-03-12 20:00:00")
	assert.Equal(t, "2026-03-13T09:00", next())
	assert.Empty(t, st.Benches[0].Skipped)
	r.stepWall(-3 * time.Hour) // 19:00 comes again, and was left out
	assert.Equal(t, "2026-03-13T09:00", next())
}

func TestRecordsHoldSkipsUnderTheirOldName(t *testing.T) {
	assert.Equal(t, Skipped, OnRecord(Refused, "skipped by hand"))
	assert.Equal(t, Skipped, OnRecord(Refused, "stopped by hand before it began"))
	assert.Equal(t, Refused, OnRecord(Refused, "paused: until Mon 2 Mar 18:00"))
	assert.Equal(t, Missed, OnRecord(Missed, "skipped by hand"))

	r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.until("2026-03-02 09:30:00")
	s := r.down(time.Minute)
	slot := schedule.CivilOf(2026, 3, 2, 15, 0, 0)
	k := s.control.Benches["north"]
	k.Base, k.Cursor, k.Skipped = 0, slot, slot
	k.Last = Flood{ID: 9, HasSlot: true, Slot: slot, Outcome: Refused, Reason: "skipped by hand"}
	s.control.Benches["north"] = k
	r.up(s, "boot")
	assert.Zero(t, r.control.benches[0].last.ID, "it is yet to come")
	before := len(r.rows())
	assert.Empty(t, r.starts(6*time.Hour))
	assert.Len(t, r.rows(), before, "its row is on record")
	assert.Len(t, r.starts(18*time.Hour), 1)
}

// A skip that finds no flood under a wrong clock does not stay for ever.
func TestASkipWithoutAFloodInSightLapses(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00"), "2026-03-22 08:00")
	r.turn()
	r.skip()
	r.stepWall(-21 * tomorrow) // the day of transplanting
	r.run(tomorrow)
	require.Equal(t, 1, r.outcomes()[Skipped])
	r.skip()
	r.stepWall(-300 * tomorrow)
	r.run(time.Minute)
	require.Len(t, r.control.benches[0].skips, 1)
	r.run(maxPause + tomorrow)
	r.stepWall(330 * tomorrow)
	r.run(2 * tomorrow)
	assert.LessOrEqual(t, r.outcomes()[Skipped], 2)
	assert.Empty(t, r.control.benches[0].skips)
}

// All that the ledger's second witness knows of a bench is enough for a skip, once a
// trusted clock tells how long the outage was.
func TestASkipHoldsWhereTheLedgerIsLost(t *testing.T) {
	for name, outage := range map[string]time.Duration{"before its time": time.Hour, "after its time": 8 * time.Hour} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		p := r.skip()
		s := r.down(outage)
		north := s.control.Benches["north"]
		skip := north.Skips[0]
		skip.Asked, skip.Due = skip.Asked-s.control.Mono, skip.Due-s.control.Mono
		s.control = State{Known: s.control.Known, Far: s.control.Far, NextID: s.control.NextID, Benches: map[string]BenchState{"north": {Skips: []Skip{skip}}}}
		r.now.Mono = time.Minute
		r.up(s, "another")
		r.until("2026-03-03 14:00:00")
		_, left := r.slots()[p.Slot.Local]
		if outage < 5*time.Hour {
			assert.Equal(t, Skipped, r.slots()[p.Slot.Local].Outcome, name)
		} else {
			assert.False(t, left, name)
		}
		assert.Equal(t, Proven, r.slots()[p.Slot.Local.Date().AddDays(1).At(9*3600)].Outcome, "%s: no other flood is left out", name)
		assert.Empty(t, r.control.State("boot").Benches["north"].Skips, name)
	}
}
