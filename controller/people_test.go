package controller

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"benchtide/schedule"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

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
		-1: "is outside 0 to 8 min", most + 1: "is outside 0 to 8 min", most: "", time.Minute: "", 0: "",
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

func TestASkippedSlotIsNobodysBusiness(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	_, err := r.control.SkipNext(r.now, 0)
	require.NoError(t, err)
	r.run(time.Hour)
	assert.Zero(t, r.told("flood"))
}

func TestSkipNextSettlesTheSlot(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(time.Minute)
	p, err := r.control.SkipNext(r.now, 0)
	require.NoError(t, err)
	assert.Equal(t, "2026-03-02T09:00", p.Slot.Local.String())
	r.run(tomorrow + 2*time.Hour)
	slots := r.slots()
	assert.Equal(t, Skipped, slots[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
	assert.Equal(t, Proven, slots[schedule.CivilOf(2026, 3, 3, 9, 0, 0)].Outcome)
}

func TestASkippedSlotStaysSkippedOverARestartAndASmallStep(t *testing.T) {
	for name, disturb := range map[string]func(*rig){
		"restart":    func(r *rig) { r.restart(time.Minute, true) },
		"other boot": func(r *rig) { r.restart(time.Minute, false) },
		"step":       func(r *rig) { r.stepWall(-time.Hour) },
		"long step":  func(r *rig) { r.stepWall(-3 * time.Hour) },
		"doubt": func(r *rig) {
			r.now.Trusted = false
			r.run(time.Hour)
			r.now.Trusted = true
		},
	} {
		r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "19:00"), "2026-03-02 08:00")
		r.run(2 * time.Hour)
		_, err := r.control.SkipNext(r.now, 0)
		require.NoError(t, err)
		disturb(r)
		assert.Empty(t, r.starts(20*time.Hour), name)
		assert.NotEmpty(t, r.starts(8*time.Hour), name)
	}
}

// A person skips the next flood, whatever date a wrong clock gave it: not
// another ten days later, when the crops count on it.
func TestASkipMeansTheNextFloodAlsoOnAClockThatWasWrong(t *testing.T) {
	const days = 10 * tomorrow
	for name, c := range map[string]struct {
		passes, back time.Duration // from the skip to the step back, and how far
		first        string        // flood after it
		skipped      bool          // the slot of the skip, when its date comes again
	}{
		"before it was left out":               {time.Hour, days, "2026-03-03T09:00", false},
		"to before another":                    {time.Minute, days + 3*time.Hour, "2026-03-02T19:00", false},
		"as it was to be left out":             {9 * time.Hour, days, "2026-03-03T09:00", false},
		"after it was left out":                {11 * time.Hour, days, "2026-03-03T09:00", false},
		"a flood later":                        {tomorrow, days, "2026-03-03T19:00", false},
		"by hours, after it was left out":      {10 * time.Hour, 3 * time.Hour, "2026-03-13T09:00", true},
		"by hours, to before the flood before": {time.Hour, 3 * time.Hour, "2026-03-13T09:00", true},
	} {
		r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "19:00"), "2026-03-12 08:00") // ten days fast
		r.run(2 * time.Hour)
		p, err := r.control.SkipNext(r.now, 0)
		require.NoError(t, err)
		require.Equal(t, "2026-03-12T19:00", p.Slot.Local.String())
		r.run(c.passes)
		r.stepWall(-c.back)
		var starts []string
		right := r.now.Wall.Add(-r.now.Mono) // of boot
		for _, at := range r.starts(11 * tomorrow) {
			starts = append(starts, schedule.CivilIn(right.Add(at-time.Minute), dublin).String())
		}
		require.NotEmpty(t, starts, name)
		assert.Equal(t, c.first, starts[0], name)
		assert.Equal(t, c.skipped, !slices.Contains(starts, "2026-03-12T19:00"), name)
	}
}

func TestAFloodThatWasStoppedWhileItWaitedStaysLeftOutOnAClockSetBack(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "19:00"), "2026-03-01 20:00")
	r.tables[0].lowDry = true
	r.until("2026-03-02 09:10:00")
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.tables[0].lowDry = false
	r.run(3 * time.Hour)
	require.Equal(t, Skipped, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
	r.stepWall(-4 * time.Hour) // 08:10 again
	assert.Empty(t, r.starts(8*time.Hour))
	assert.NotEmpty(t, r.starts(8*time.Hour), "the next one floods")
}

// Whatever a person orders has to reach storage: the state says so in the turn of
// the order, and what it then holds says what was ordered.
func TestEveryOrderOfAPersonIsForStorage(t *testing.T) {
	s := apart(testSetup(2, 48*time.Hour, "09:00", "15:00"))
	r := newRig(t, s, "2026-03-02 08:00")
	r.turn()
	skip := func() error { _, err := r.control.SkipNext(r.now, 0); return err }
	for _, order := range []struct {
		what string
		do   func() error
	}{
		{"pause", func() error { return r.control.Pause(r.now, 0, r.now.Wall.Add(time.Hour), "") }},
		{"another pause", func() error { return r.control.Pause(r.now, 0, r.now.Wall.Add(2*time.Hour), "") }},
		{"resume", func() error { return r.control.Resume(r.now, 0) }},
		{"skip", skip},
		{"undo", func() error { _, err := r.control.UndoSkip(r.now, 0, 0); return err }},
		{"skip of a slot", func() error {
			_, err := r.control.SkipSlot(r.now, 0, schedule.CivilOf(2026, 3, 2, 9, 0, 0))
			return err
		}},
		{"flood", func() error { return r.control.Flood(r.now, 1, 0) }},
		{"stop", func() error { return r.control.StopFlood(r.now, 1) }},
		{"sanitise", func() error { return r.control.Sanitise(r.now, 0, "") }},
		{"rinsed", func() error { return r.control.Rinsed(r.now, 0, "") }},
		{"last day", func() error { return r.control.Close(r.now, 1, schedule.DateOf(2026, 3, 9)) }},
		{"empty", func() error { _, err := r.control.Empty(r.now, 1); return err }},
	} {
		before := r.control.State("boot")
		require.False(t, r.control.Dirty())
		require.NoError(t, order.do(), order.what)
		require.True(t, r.control.Dirty(), order.what)
		after := r.control.State("boot")
		assert.False(t, reflect.DeepEqual(before.Benches, after.Benches) && reflect.DeepEqual(before.Open, after.Open) && reflect.DeepEqual(before.Crops, after.Crops), "%s leaves its mark", order.what)
		r.now.Mono += time.Minute // past what is taken for a second touch
		r.now.Wall = r.now.Wall.Add(time.Minute)
		r.turn()
	}
}

// A flood that hands-in took is made up for once it ends, where the crop cannot wait.
func TestTheEndOfHandsInBringsACatchUpWhenTheCropCannotWait(t *testing.T) {
	for wait, floods := range map[time.Duration]int{20 * time.Hour: 1, 48 * time.Hour: 0} {
		r := newRig(t, testSetup(1, wait, "09:00", "21:00"), "2026-03-01 20:00")
		r.until("2026-03-02 08:30:00")
		r.guard.SetHandsIn(r.now, true)
		r.until("2026-03-02 12:00:00")
		require.Equal(t, Refused, r.slots()[civil("2026-03-02 09:00")].Outcome)
		r.guard.SetHandsIn(r.now, false)
		assert.Len(t, r.starts(4*time.Hour), floods, "can wait %s", wait)
	}
}
