package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

func TestAnOutageIsKnownByTheBootTimeClockOrByTwoTrustedReadings(t *testing.T) {
	noon := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	then := State{Boot: "one", Mono: time.Hour, Wall: noon, Trusted: true}
	for name, tt := range map[string]struct {
		boot    string
		mono    time.Duration
		wall    time.Duration
		trusted bool
		change  func(*State)
		gap     time.Duration
		known   bool
	}{
		"the same boot":                          {boot: "one", mono: 90 * time.Minute, wall: -9 * time.Hour, gap: 30 * time.Minute, known: true},
		"the same boot at once":                  {boot: "one", mono: time.Hour, wall: time.Minute, known: true},
		"another boot, both trusted":             {boot: "two", mono: 3 * time.Hour, wall: 20 * time.Minute, trusted: true, gap: 20 * time.Minute, known: true},
		"another boot, at once":                  {boot: "two", trusted: true, known: true},
		"another boot, not trusted now":          {boot: "two", mono: 3 * time.Hour, wall: 20 * time.Minute},
		"another boot, not trusted then":         {boot: "two", mono: 3 * time.Hour, wall: 20 * time.Minute, trusted: true, change: func(s *State) { s.Trusted = false }},
		"another boot, set back":                 {boot: "two", mono: 3 * time.Hour, wall: -1, trusted: true},
		"boots without a name":                   {mono: 3 * time.Hour, change: func(s *State) { s.Boot = "" }},
		"a boot of the same name that is behind": {boot: "one", mono: time.Minute, wall: 10 * time.Minute, trusted: true, gap: 10 * time.Minute, known: true},
	} {
		st := then
		if tt.change != nil {
			tt.change(&st)
		}
		gap, known := st.outage(safety.Now{Mono: tt.mono, Wall: noon.Add(tt.wall), Trusted: tt.trusted}, tt.boot)
		assert.Equal(t, tt.known, known, name)
		assert.Equal(t, tt.gap, gap, name)
	}
}

// What counts by the boot-time clock goes on over a restart as if the clock had
// run on, in whichever boot.
func TestClocksGoOnOverARestart(t *testing.T) {
	for _, sameBoot := range []bool{true, false} {
		r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 08:00")
		r.run(2 * time.Hour)
		r.now.Trusted = false
		r.run(9 * time.Hour) // one flood by elapsed time
		require.Equal(t, ByElapsed, r.rows()[1].Cause)
		r.now.Trusted = true
		r.turn()
		require.NoError(t, r.control.Sanitise(r.now, 0, ""))
		r.turn()
		before := r.control.benches[0]
		require.Len(t, before.stands, 1)
		age, crop := r.now.Mono-before.elapsedFrom, r.now.Mono-r.control.crops[0].since
		require.Equal(t, age, r.now.Mono-before.stands[0].To)
		const off = 37 * time.Minute
		r.restart(off, sameBoot)
		after := r.control.benches[0]
		assert.Equal(t, age+off, r.now.Mono-after.stands[0].To)
		assert.Equal(t, age+off, r.now.Mono-after.elapsedFrom)
		assert.Equal(t, crop+off, r.now.Mono-r.control.crops[0].since)
		assert.Equal(t, r.now.Mono-off+sanitisingEvery, after.sanitising.nudge)
	}
}

func TestOnlyAFloodByElapsedTimeThatCountedStandsForSlots(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	assert.Empty(t, r.control.benches[0].stands, "one that the calendar asked for stands for itself")
	r.now.Trusted = false
	r.tables[0].dead = true
	r.run(9 * time.Hour)
	require.Equal(t, ByElapsed, r.rows()[1].Cause)
	assert.Empty(t, r.control.benches[0].stands, "one that failed stands for nothing")
}

func TestTheIntervalOfADayWithoutAFloodIsWhatItsCropCanWait(t *testing.T) {
	assert.Equal(t, 8*time.Hour, intervalOf(schedule.Planned{PerDay: 3, CanWait: 40 * time.Hour}))
	assert.Equal(t, 24*time.Hour, intervalOf(schedule.Planned{PerDay: 1, CanWait: 40 * time.Hour}))
	assert.Equal(t, 48*time.Hour, intervalOf(schedule.Planned{PerDay: 1, Apart: 48 * time.Hour, CanWait: 60 * time.Hour}))
	assert.Equal(t, 48*time.Hour, intervalOf(schedule.Planned{Apart: 48 * time.Hour, CanWait: 60 * time.Hour}), "a day that is left out")
	assert.Equal(t, 40*time.Hour, intervalOf(schedule.Planned{CanWait: 40 * time.Hour}))
}

func TestFloodsOfABenchThatIsNoMoreAreLeftToTheLedger(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	s := r.down(time.Minute)
	s.control.Open = []Flood{{ID: 1, Bench: -1, HasSlot: true}, {ID: 2, Bench: 1, HasSlot: true}}
	r.up(s, "boot")
	r.run(2 * time.Hour)
	require.Len(t, r.rows(), 1)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
}

func TestAFloodByHandThatWaitedIsGivenUpAtARestart(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 12:00")
	r.until("2026-03-02 12:20:00")
	r.tables[0].lowDry = true
	r.run(10 * time.Second)
	require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
	r.run(time.Minute)
	r.tables[0].lowDry = false
	r.restart(time.Minute, true)
	r.run(time.Hour)
	require.Len(t, r.rows(), 1)
	assert.Equal(t, Missed, r.rows()[0].Outcome)
}
