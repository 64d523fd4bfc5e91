package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// Floods by elapsed time stand in a row while no more than one and a half intervals,
// here 12 h each, and no restart lies between them.
func TestFloodsByElapsedTimeStandInARow(t *testing.T) {
	const last = 30 * time.Hour
	for name, tt := range map[string]struct {
		at      time.Duration
		skipped bool
		resumed time.Duration
		rows    int
	}{
		"the next":            {last + 12*time.Hour, false, 0, 1},
		"just near enough":    {last + 18*time.Hour, false, 0, 1},
		"too far":             {last + 18*time.Hour + 1, false, 0, 2},
		"after a skip":        {last + 12*time.Hour, true, 0, 2},
		"after a restart":     {last + 12*time.Hour, false, last + 1, 2},
		"a restart just then": {last + 12*time.Hour, false, last, 1},
	} {
		r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		r.turn()
		c := r.control
		c.outage.resumed = tt.resumed
		c.benches[0].stands = []Stand{{From: 6 * time.Hour, To: last, Skipped: tt.skipped}}
		c.floodedByRate(0, tt.at)
		s := c.benches[0].stands
		require.Len(t, s, tt.rows, name)
		assert.Equal(t, tt.at, s[len(s)-1].To, name)
	}
}

func TestWhatStandsForSlotsIsForgottenInTime(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.turn()
	c := r.control
	p, ok := c.nextSlot(0)
	require.True(t, ok)
	due := c.monoOf(p.Due)
	edge := due - 12*time.Hour
	c.benches[0].stands = []Stand{{To: edge - 1}, {To: edge}}
	c.forgetStands(0, &p)
	assert.Equal(t, []Stand{{To: edge}}, c.benches[0].stands)
	c.benches[0].stands = []Stand{{To: edge - 1}, {To: edge}}
	c.benches[0].forgetStandsBefore(edge)
	assert.Equal(t, []Stand{{To: edge}}, c.benches[0].stands)
	for n := range maxStands + 3 {
		c.benches[0].stand(Stand{To: time.Duration(n)})
	}
	assert.Len(t, c.benches[0].stands, maxStands)
	assert.Equal(t, time.Duration(3), c.benches[0].stands[0].To, "the oldest go")
}

func TestWhichRowsStandForAnother(t *testing.T) {
	for _, tt := range []struct {
		f     Flood
		stood bool
	}{
		{Flood{Outcome: Missed, Reason: floodedInstead}, true},
		{Flood{Outcome: Skipped, Reason: skippedInstead}, true},
		{Flood{Outcome: Missed, Reason: skippedInstead}, false},
		{Flood{Outcome: Skipped, Reason: skippedByHand}, false},
		{Flood{Outcome: Proven, Reason: floodedInstead}, false},
	} {
		assert.Equal(t, tt.stood, tt.f.StoodFor(), "%+v", tt.f)
	}
}

func TestWhichSkipLeavesOutASlot(t *testing.T) {
	s := bench{skips: []Skip{{Slot: 99}, {}, {}}}
	assert.Equal(t, 0, s.skipFor(99, 0), "its own")
	assert.Equal(t, 1, s.skipFor(50, 0), "the first that names none")
	assert.Equal(t, 2, s.skipFor(50, 1))
	assert.Equal(t, -1, s.skipFor(50, 2), "both are used")
	assert.Equal(t, -1, s.skipOf(0), "one that names none is no slot's own")
}

func TestTwoSkipsWithoutASlotLeaveOutTwo(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00", "15:00"), "2026-03-02 08:00")
	r.turn()
	s := &r.control.benches[0]
	s.skips = []Skip{{Asked: r.now.Mono, Due: r.now.Mono}, {Asked: r.now.Mono, Due: r.now.Mono}}
	p, ok := r.control.nextFlood(0)
	require.True(t, ok)
	assert.Equal(t, civil("2026-03-02 15:00"), p.Slot.Local)
	first, ok := r.control.nextSlot(0)
	require.True(t, ok)
	r.control.spend(0, &first, isSkipped)
	assert.Equal(t, []schedule.Civil{first.Slot.Local}, s.leftOut, "and nothing that has no name")
	assert.Len(t, s.skips, 1)
}

// Which skips still mean their slot, once the clock is another.
func TestASkipStillMeansASlotThatIsDueWhenItWasMeant(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00"), "2026-03-02 08:00")
	r.turn()
	c, nine := r.control, civil("2026-03-02 09:00")
	due := c.monoOf(r.now.Wall.Add(time.Hour))
	for off, still := range map[time.Duration]bool{0: true, rearmBeyond: true, -rearmBeyond: true, rearmBeyond + 1: false, -rearmBeyond - 1: false} {
		assert.Equal(t, still, c.stillMeans(0, &Skip{Slot: nine, Due: due + off}), "%s off", off)
	}
	assert.True(t, c.inPlan(0, nine))
	assert.False(t, c.inPlan(0, nine+60))
	c.benches[0].hasSlot, c.benches[0].cursor = true, nine
	_, comes := c.toCome(0, nine)
	assert.False(t, comes, "it is taken up already")
	c.benches[0].skips = []Skip{{Slot: nine + 60}}
	_, ok := c.skipped(0, 0)
	assert.False(t, ok, "no flood of that time is planned")

	r.now.Trusted = false
	r.turn()
	c.dirty = false
	c.rebind(0)
	assert.False(t, c.dirty, "floods follow elapsed time: no skip is bound anew")
	c.benches[0].skips = nil
	for n := range 2 {
		p, ok := c.elapsedFlood(0, n)
		require.True(t, ok)
		assert.Equal(t, c.benches[0].elapsedFrom+time.Duration(n+1)*12*time.Hour, c.monoOf(p.Due))
	}
}

func TestASkipThatIsOverIsToldOnlyWhereItsSlotIsNotPlannedAnyMore(t *testing.T) {
	for name, tt := range map[string]struct {
		named string
		due   time.Duration // from now on
		told  int
	}{
		"planned no more":               {"2026-03-02 10:00", 0, 1},
		"as far past as a clock may be": {"2026-03-02 10:00", -rearmBeyond, 1},
		"long past":                     {"2026-03-02 10:00", -rearmBeyond - 1, 0},
		"planned, and over":             {"2026-03-02 09:00", 0, 0},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "20:00"), "2026-03-02 08:00")
		r.until("2026-03-02 12:00:00")
		r.control.TakeEvents()
		r.messages = nil
		k := Skip{Named: civil(tt.named), Due: r.now.Mono + tt.due}
		assert.False(t, r.control.bind(0, &k), name)
		assert.Len(t, said(r.control), tt.told, name)
	}
}

func TestASkipByElapsedTimeLapsesTwoHoursAfterItsMoment(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "20:00"), "2026-03-02 08:00")
	r.turn()
	r.now.Mono += 10 * time.Hour
	r.control.now = r.now
	at := r.now.Mono - queueFor
	r.control.benches[0].skips = []Skip{{Due: at - 1}, {Due: at}, {Due: r.now.Mono}, {Slot: 7, Due: at - 1}}
	r.control.lapse(0)
	assert.Equal(t, []Skip{{Due: at}, {Due: r.now.Mono}, {Slot: 7, Due: at - 1}}, r.control.benches[0].skips)
}

func TestASkipPassesOverFloodsThatPeopleAskedForAndRetries(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00"), "2026-03-02 08:00")
	r.turn()
	c := r.control
	byHand := c.newJob(0, ByHand, r.now.Wall, time.Hour)
	retry := c.newJob(0, BySchedule, r.now.Wall, time.Hour)
	retry.flood.Started = r.now.Wall
	c.benches[0].queue = []job{byHand, retry}
	assert.Equal(t, civil("2026-03-02 09:00"), r.skip().Slot.Local)
	assert.Len(t, c.benches[0].queue, 2)
}

func TestANamedSkipIsTakenBackAndAskedForOnce(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00", "15:00"), "2026-03-02 08:00")
	r.turn()
	c, nine := r.control, civil("2026-03-02 09:00")
	for range 2 {
		_, err := c.SkipSlot(r.now, 0, nine)
		require.NoError(t, err)
		r.run(2 * doubleTap)
		assert.Len(t, c.benches[0].skips, 1, "said again it stays skipped")
	}
	for range 2 {
		_, err := c.UndoSkip(r.now, 0, nine)
		require.NoError(t, err, "a second touch")
	}
	for _, slot := range []string{"2026-03-02 09:00", "2026-03-02 12:00"} {
		_, err := c.SkipSlot(r.now, 0, civil(slot))
		require.NoError(t, err)
	}
	_, err := c.SkipSlot(r.now, 0, civil("2026-03-02 15:00"))
	assert.ErrorContains(t, err, "skipped already")
}

// A slot that the skip of a flood by elapsed time stood for stays left out, should the
// clock be set back over it.
func TestASlotThatASkipStoodForIsRemembered(t *testing.T) {
	r := newRig(t, testSetup(1, 60*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.turn()
	c := r.control
	p, ok := c.nextSlot(0)
	require.True(t, ok)
	due := c.monoOf(p.Due)
	c.benches[0].stands = []Stand{{From: due, To: due, Skipped: true}}
	c.spend(0, &p, skipStands)
	assert.Empty(t, c.benches[0].stands)
	assert.Equal(t, []schedule.Civil{p.Slot.Local}, c.benches[0].leftOut)
}
