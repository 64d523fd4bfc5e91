package controller

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

func TestAFloodsFiguresAreOnRecord(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(3 * time.Hour)
	f := r.rows()[0]
	assert.InDelta(t, 600, f.Run.Seconds(), 4)
	assert.InDelta(t, 0.3*240, float64(f.Litres), 1)
	assert.InDelta(t, 0.3*600, float64(f.Pumped()), 1, "the pump's 0.3 L/s for 10 min")
	assert.InDelta(t, 120, f.Fall.Seconds(), 6, "from a quarter over FULL, at a table in 8 min")
	assert.Equal(t, 1, countKind(r, FullMade))
	for _, e := range r.events {
		if e.Kind == FullMade {
			assert.Equal(t, f.Fill, e.Flood.Fill)
		}
	}
}

// What was pumped is told of a retry, too, whose first attempt never made FULL, and of a
// record that has no times.
func TestWhatWasPumpedIsOfAllAttempts(t *testing.T) {
	const flow = 0.3 // L/s: 200 s in vain, then 240 s to FULL and 360 s of standing
	again := Flood{Attempt: 1, Fill: 240 * time.Second, Stood: 360 * time.Second, Run: 800 * time.Second, Litres: flow * 440}
	assert.InDelta(t, flow*800, float64(again.Pumped()), 1e-9)
	never := Flood{Run: 200 * time.Second, Litres: flow * 200}
	assert.InDelta(t, flow*200, float64(never.Pumped()), 1e-9)
	assert.InDelta(t, 60, float64((&Flood{Litres: 60, Fill: 200 * time.Second}).Pumped()), 1e-9)
}

func TestAFloodWithoutFullHasNoFall(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].dead = true
	r.run(3 * time.Hour)
	assert.Zero(t, r.rows()[0].Fall)
	assert.Zero(t, r.rows()[0].Fill)
	assert.Zero(t, countKind(r, FullMade))
}

func TestABenchWithHighAloneHoldsByTime(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Benches[0].Full = false
	r := newRig(t, s, "2026-03-02 08:00")
	r.run(2 * time.Hour)
	assert.Equal(t, Unproven, r.rows()[0].Outcome)
	assert.True(t, r.rows()[0].Counted)
	assert.InDelta(t, 600, r.pumped[1].Seconds(), 2, "fill and hold")
	assert.Zero(t, countTrips(r))
}

func TestOnlyTheRecordOfItsOwnIntentionStartsAFlood(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.storage = false
	r.until("2026-03-02 09:00:01")
	f := r.control.benches[0].run.flood
	require.Equal(t, Recording, r.control.benches[0].phase)
	for _, other := range []struct {
		id      int64
		attempt int
	}{{f.ID + 1, 0}, {f.ID, 1}} {
		r.control.Recorded(other.id, other.attempt)
		r.turn()
		assert.Equal(t, Recording, r.control.benches[0].phase)
	}
	r.control.Recorded(f.ID, f.Attempt)
	r.turn()
	assert.Equal(t, Filling, r.control.benches[0].phase)
}

// slowly has a flood fail for being slow, and its water come home.
func slowly(t *testing.T, due string) *rig {
	s := testSetup(1, 48*time.Hour, due)
	s.Limits.Benches[0].Empty = true
	r := newRig(t, s, "2026-03-02 08:00")
	r.tables[0].slowness = 2
	return r
}

func TestARetryThatIsHeldUpWhileItIsRecordedIsStillOne(t *testing.T) {
	r := slowly(t, "09:00")
	r.until("2026-03-02 09:10:00")
	r.tables[0].slowness = 1
	r.storage = false
	for r.control.benches[0].phase != Recording {
		r.run(time.Second)
	}
	r.guard.SetHandsIn(r.now, true)
	r.turn()
	require.Equal(t, Rest, r.control.benches[0].phase)
	r.storage = true
	r.guard.SetHandsIn(r.now, false)
	r.run(time.Hour)
	require.Len(t, r.rows(), 1)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
	assert.Equal(t, 1, r.rows()[0].Attempt)
}

func TestARetryThatIsGivenUpWasInterruptedAsItsPumpRanBefore(t *testing.T) {
	for name, tt := range map[string]struct {
		phase  Phase
		giveUp func(*rig)
		reason string
	}{
		"by a stop":        {Recording, func(r *rig) { require.NoError(r.t, r.control.StopFlood(r.now, 0)) }, "stopped by hand before it began"},
		"with the program": {Recording, func(r *rig) { r.control.Shutdown(r.now) }, "the program was stopped"},
		"with its batch":   {Rest, func(r *rig) { require.NoError(r.t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1))) }, "no batch stands on the bench any more"},
	} {
		r := slowly(t, "09:00")
		r.until("2026-03-02 09:10:00")
		r.storage = false // so that it stays where it is
		for r.control.benches[0].phase != tt.phase {
			r.run(time.Second)
		}
		tt.giveUp(r)
		r.turn()
		require.Len(t, r.rows(), 1, name)
		assert.Equal(t, Interrupted, r.rows()[0].Outcome, name)
		assert.Equal(t, tt.reason, r.rows()[0].Reason, name)
	}
}

func TestARetryMayComeALittleAfterTheSlotsDeadline(t *testing.T) {
	r := slowly(t, "09:00")
	r.tables[0].lowDry = true
	r.until("2026-03-02 10:58:00")
	r.tables[0].lowDry = false
	r.until("2026-03-02 11:06:00")
	r.tables[0].slowness = 1
	r.run(2 * time.Hour)
	require.Len(t, r.rows(), 1)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
	assert.Equal(t, 1, r.rows()[0].Attempt)
}

func TestALatchInTheDrainIsTheReason(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].blocked = true
	r.run(3 * time.Hour)
	f := r.rows()[0]
	assert.Equal(t, Unproven, f.Outcome)
	assert.True(t, strings.HasPrefix(f.Reason, "drain-window: "), f.Reason)
	assert.True(t, f.Counted, "the plants have had their water")
}

func TestALatchFromBeforeIsNoReasonOfThisFlood(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	v := &safety.BenchView{Stopped: 100, FullAt: 50, Latched: []safety.Trip{{Interlock: safety.Chatter, At: 90}, {Interlock: safety.DrainWindow, At: 110}}}
	assert.Equal(t, safety.DrainWindow, r.control.endingOf(0, v).latched.Interlock)
	v.Latched = v.Latched[:1]
	assert.Empty(t, r.control.endingOf(0, v).latched.Interlock)
	v.Latched[0].At = 100 // it came with the stop
	assert.Empty(t, r.control.endingOf(0, v).latched.Interlock)
	v.Trip = safety.Trip{Interlock: safety.Implausible, At: 105}
	assert.Equal(t, safety.Implausible, r.control.endingOf(0, v).latched.Interlock)
	assert.Empty(t, r.control.endingOf(0, v).trip.Interlock)
	v.Trip.At = 100 // it ended the run
	assert.Equal(t, safety.Implausible, r.control.endingOf(0, v).trip.Interlock)
}

func TestTheFallEndsWhenAFullThatWasMadeClearsForTheFirstTime(t *testing.T) {
	for name, tt := range map[string]struct {
		full safety.Switch
		made bool
		had  time.Duration
		want time.Duration
	}{
		"it clears":              {safety.Switch{Level: safety.Dry, Since: 160}, true, 0, 60},
		"it cleared before":      {safety.Switch{Level: safety.Dry, Since: 170}, true, 60, 60},
		"it stands":              {safety.Switch{Level: safety.Wet, Since: 90}, true, 0, 0},
		"it bobs":                {safety.Switch{Level: safety.Wet, Since: 110}, true, 0, 0},
		"it was lost in the run": {safety.Switch{Level: safety.Dry, Since: 90}, true, 0, 0},
		"it was never made":      {safety.Switch{Level: safety.Dry, Since: 160}, false, 0, 0},
	} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.turn()
		s := &r.control.benches[0]
		s.phase, s.run = Draining, run{seenStop: true, seenFull: tt.made}
		s.run.flood.Fall = tt.had
		r.control.view.Benches[0] = safety.BenchView{Full: tt.full, Stopped: 100, Water: safety.Standing}
		r.control.awaitGone(0)
		assert.Equal(t, tt.want, s.run.flood.Fall, name)
	}
}

// The guard may refuse a start that it allowed a moment ago. What it shows is
// then still the run before, which proves nothing of this one.
func TestAStartThatTheGuardRefusedIsAskedForAgain(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.until("2026-03-02 14:59:59")
	require.Equal(t, Proven, r.rows()[0].Outcome)
	r.pass(time.Second)
	turn := func() { // in which the guard allows nothing
		r.read()
		r.control.Step(r.now, r.guard.Observe(r.now, r.readings))
		r.control.Recorded(r.control.benches[0].run.flood.ID, 0)
		r.pass(time.Millisecond)
	}
	turn()
	turn()
	require.Equal(t, Filling, r.control.benches[0].phase)
	turn()
	assert.Equal(t, Recording, r.control.benches[0].phase)
	r.run(time.Hour)
	require.Len(t, r.rows(), 2)
	assert.Equal(t, Proven, r.rows()[1].Outcome)
	assert.Equal(t, "15:00:00", r.rows()[1].Started.In(dublin).Format(time.TimeOnly))
	assert.Equal(t, 2, countKind(r, PumpStopped))
}

func TestOutcomesOfFloodsWhosePumpDidNotRun(t *testing.T) {
	for o, never := range map[Outcome]bool{Skipped: true, Refused: true, Missed: true, Proven: false, Unproven: false, Short: false, Interrupted: false, "": false} {
		assert.Equal(t, never, o.NeverRan(), "%q", o)
	}
}
