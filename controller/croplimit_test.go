package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// potted is a setup whose pots last so long after each flood; asked has what was
// asked about.
func potted(s Setup, lasts time.Duration, asked *[]LastFlood) Setup {
	s.PotsLast = func(_ int, f LastFlood, most time.Duration) time.Duration {
		if asked != nil {
			*asked = append(*asked, f)
		}
		return min(lasts, most)
	}
	return s
}

func TestOnAHealthyScheduleTheHotLimitRaisesNothing(t *testing.T) {
	r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00", "15:00"), 6*time.Hour, nil), "2026-03-02 08:00")
	r.run(3 * tomorrow)
	assert.Empty(t, r.cropTold())
	st := Status{}
	r.control.StatusInto(&st)
	assert.Equal(t, 40*time.Hour, st.Batches[0].Limit)
	assert.False(t, st.Batches[0].Pots)
	for _, f := range r.rows() {
		assert.Equal(t, BySchedule, f.Cause, "nor a catch-up")
	}
}

// The pump dies after the flood of 09:00; that of 15:00 does not count. The pots
// last 8 h from 09:10, and not the 40 h of the stage.
func TestOnceAFloodDidNotCountTheCropClockRunsAgainstThePots(t *testing.T) {
	var asked []LastFlood
	r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00", "15:00"), 8*time.Hour, &asked), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.tables[0].dead = true
	r.until("2026-03-02 18:00:00")
	told := r.cropTold()
	require.Len(t, told, 3)
	assert.Equal(t, "2 15:06:00 today", told[0], "when the flood has failed")
	assert.Equal(t, "2 15:09:58 now", told[1], "six of eight hours")
	assert.Equal(t, "2 17:09:58 now", told[2], "all eight")
	r.wantMessage("basil north on north: last watered 6 h ago; in hot weather its pots last 8 h.")
	r.wantMessage("By now they may be too dry.")
	assert.Len(t, asked, 1, "it is worked out once a flood")
	assert.True(t, asked[0].Dated)
	assert.Equal(t, 6*time.Minute, asked[0].Hold)
	st := Status{}
	r.control.StatusInto(&st)
	assert.True(t, st.Batches[0].Pots)
	assert.Greater(t, st.Batches[0].Ratio, 1.0)

	r.tables[0].dead = false
	require.NoError(t, r.guard.Reset(r.now, 0, "the pump is new"))
	r.run(time.Hour)
	r.control.StatusInto(&st)
	assert.False(t, st.Batches[0].Pots, "it was watered")
}

// What keeps the next planned flood from starting makes the hot limit count before
// it is due; what ends before then does not.
func TestTheHotLimitCountsWhereTheNextFloodCannotStart(t *testing.T) {
	for name, tt := range map[string]struct {
		hold  func(*rig)
		count bool
	}{
		"nothing":               {func(r *rig) {}, false},
		"a pause over it":       {func(r *rig) { require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(8*time.Hour), "")) }, true},
		"a pause that is short": {func(r *rig) { require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(time.Hour), "")) }, false},
		"a pause up to it":      {func(r *rig) { require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(5*time.Hour), "")) }, false},
		"sanitising":            {func(r *rig) { require.NoError(t, r.control.Sanitise(r.now, 0, "")) }, true},
		"hands in":              {func(r *rig) { r.guard.SetHandsIn(r.now, true) }, false},
		"a latch":               {func(r *rig) { r.tables[0].high = true }, true},
	} {
		r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00", "15:00"), 10*time.Hour, nil), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		tt.hold(r)
		r.run(time.Minute)
		l, ok := r.control.limit(0)
		require.True(t, ok)
		assert.Equal(t, tt.count, l.pots, name)
	}
}

func TestASkippedFloodIsDryTimeToo(t *testing.T) {
	r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00", "12:00", "15:00"), 5*time.Hour, nil), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.skip()
	r.until("2026-03-02 14:00:00")
	assert.Equal(t, []string{"2 12:54:58 now"}, r.cropTold(), "at three quarters of five hours, since 15:00 comes too late")
	r.wantMessage("in hot weather its pots last 5 h. Its flood was skipped by hand, and the next one comes too late.")
}

func TestWithAnUntrustedClockThePotsAreThoseOfTheHottestMonth(t *testing.T) {
	var asked []LastFlood
	r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00", "15:00"), 8*time.Hour, &asked), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.now.Trusted = false
	r.tables[0].dead = true
	r.run(20 * time.Hour)
	require.NotEmpty(t, asked)
	last := asked[len(asked)-1]
	assert.False(t, last.Dated)
	assert.Equal(t, "00:00", last.Ended.Format("15:04"), "of today, whatever the hour of the flood was")
}

func TestACropThatNoFloodReachedYetIsNotSaidToHaveBeenWatered(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	st := Status{}
	r.control.StatusInto(&st)
	assert.True(t, st.Batches[0].NoFlood)
	r.tables[0].dead = true
	r.until("2026-03-02 12:00:00")
	r.wantMessage("no flood on record, counted from")
	r.control.Learnt(0, 1.6)
	r.restart(time.Minute, true)
	assert.InDelta(t, 1.6, r.control.pots[0].use, 0, "what it was learnt to use outlives it")
	r.control.StatusInto(&st)
	assert.True(t, st.Batches[0].NoFlood, "nor after a restart")
	r.tables[0].dead = false
	require.NoError(t, r.guard.Reset(r.now, 0, "pump plugged in"))
	r.until("2026-03-03 12:00:00")
	r.control.StatusInto(&st)
	assert.False(t, st.Batches[0].NoFlood)
}

// How long pots last is kept for a flood only as long as the same is asked.
func TestHowLongPotsLastIsWorkedOutAnewForALongerWait(t *testing.T) {
	r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00"), 30*time.Hour, nil), "2026-03-02 08:00")
	assert.Equal(t, 10*time.Hour, r.control.potsLast(0, 10*time.Hour))
	assert.Equal(t, 30*time.Hour, r.control.potsLast(0, 40*time.Hour))
}

// What a batch was learnt to use is state that a restart needs.
func TestWhatABatchIsLearntToUseIsStored(t *testing.T) {
	c := scales(t, nil)
	c.State("boot")
	require.False(t, c.Dirty())
	c.Learnt(-1, 2)
	c.Learnt(len(c.pots), 2)
	c.Learnt(0, 1)
	require.Equal(t, 1.0, max(1, c.pots[0].use))
	c.State("boot")
	c.Learnt(0, 1.5)
	assert.True(t, c.Dirty())
	c.State("boot")
	c.Learnt(0, 1.5)
	assert.False(t, c.Dirty(), "nothing new")
	st := c.State("boot")
	again, err := Resume(c.setup, c.now, st, "boot")
	require.NoError(t, err)
	assert.InDelta(t, 1.5, again.pots[0].use, 1e-9)
}

func TestHowLongPotsLastIsWorkedOutForEachFlood(t *testing.T) {
	var asked []LastFlood
	r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00", "15:00"), 8*time.Hour, &asked), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.control.potsLast(0, time.Hour)
	r.until("2026-03-02 16:00:00")
	r.control.potsLast(0, time.Hour)
	require.Len(t, asked, 2)
	assert.Equal(t, 6*time.Hour, asked[1].Ended.Sub(asked[0].Ended))
	assert.InDelta(t, 1.19, asked[0].Use, 0.005, "the limit is that of the driest tenth of the pots")
	r.control.Learnt(0, 1.5)
	r.control.potsLast(0, time.Hour)
	assert.InDelta(t, 1.5*1.19, asked[2].Use, 0.01)
}

func TestPotsThatLastAsLongAsTheStageAllowsAreNoLimitOfTheirOwn(t *testing.T) {
	r := newRig(t, potted(testSetup(1, 40*time.Hour, "09:00"), 50*time.Hour, nil), "2026-03-02 08:00")
	r.turn()
	r.control.crops[0].trouble = true
	l, ok := r.control.limit(0)
	require.True(t, ok)
	assert.Equal(t, limit{wait: 40 * time.Hour}, l)
}

// Without a trusted clock nobody knows what a pause spares.
func TestAPauseHoldsUpABenchWhileTheClockIsNotTrusted(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(time.Hour), ""))
	r.run(time.Minute)
	assert.False(t, r.control.heldUp(0))
	r.now.Trusted = false
	r.turn()
	assert.True(t, r.control.heldUp(0))
	require.NoError(t, r.control.Resume(r.now, 0))
	assert.False(t, r.control.heldUp(0))
}

func TestASkipByElapsedTimePutsTheNextFloodOffByAnInterval(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.turn()
	for skips := range 2 {
		later := r.control.elapsedEnd(0, skips+1).at - r.control.elapsedEnd(0, skips).at
		assert.Equal(t, 12*time.Hour, later)
	}
}
