package controller

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

func TestAFloodRestartsTheCropClocksOfItsBenchAlone(t *testing.T) {
	r := newRig(t, eachSetup(40*time.Hour, []string{"15:00"}, []string{"09:00"}), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	assert.InDelta(t, 2.0/40, r.control.CropRatio(0), 0.001)
	assert.InDelta(t, (50.0/60)/40, r.control.CropRatio(1), 0.002)
}

func TestACropThatCannotWaitAtAllHasNoRatio(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Plans[0].Stages[0].CanWait = 0 // what a file cannot say
	r := newRig(t, s, "2026-03-02 08:00")
	r.now.Mono += time.Hour
	r.turn()
	assert.Zero(t, r.control.CropRatio(0))
}

// cropTold lists when and how urgently a person was told of the crop on north.
func (r *rig) cropTold() (all []string) {
	for _, e := range r.events {
		if e.Kind == MessageSent && e.Message.Cause == "crop-basil_north" {
			all = append(all, e.At.Wall.In(dublin).Format("2 15:04:05 ")+string(e.Message.Urgency))
		}
	}
	return all
}

func TestACropInTroubleIsToldOfAtThreeQuartersAndAtTheEnd(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].dead = true
	r.run(41 * time.Hour)
	assert.Equal(t, []string{"2 09:06:00 today", "3 14:00:00 now", "4 00:00:00 now"}, r.cropTold(), "when the flood has failed, and 30 and 40 h after it counted as watered")
	r.wantMessage("no flood on record, counted from 30 h ago; it can wait 40 h. 10 h are left.")
	r.wantMessage("before Wed 4 Mar 00:00")
	r.wantMessage("It has waited longer than it can")
}

func TestACropWhoseFloodIsHeldUpIsNotOnItsWay(t *testing.T) {
	for name, hold := range map[string]func(*rig){
		"nothing":    func(r *rig) {},
		"a pause":    func(r *rig) { require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(20*time.Hour), "")) },
		"sanitising": func(r *rig) { require.NoError(t, r.control.Sanitise(r.now, 0, "")) },
		"hands in":   func(r *rig) { r.guard.SetHandsIn(r.now, true) },
		"a latch":    func(r *rig) { r.tables[0].high = true },
	} {
		r := newRig(t, testSetup(1, 50*time.Hour, "09:00"), "2026-03-02 08:00")
		r.run(2 * time.Hour)
		r.tables[0].lowDry = true
		r.until("2026-03-03 12:00:00") // the second day's flood was refused
		r.tables[0].lowDry = false
		hold(r)
		r.until("2026-03-04 08:00:00") // 47 h of 50, and the third day's comes at 09:00
		urgent := 0
		for _, told := range r.cropTold() {
			if told[len(told)-3:] == "now" {
				urgent++
			}
		}
		want := 1
		if name == "nothing" {
			want = 0
		}
		assert.Equal(t, want, urgent, name)
		assert.Equal(t, "3 11:00:00 today", r.cropTold()[0], "%s: of what has happened in any case", name)
	}
}

func TestTheNextEndIsThatOfItsHold(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "21:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	e := r.control.nextEnd(0)
	require.True(t, e.ok)
	assert.Equal(t, 11*time.Hour+10*time.Minute, e.at-r.now.Mono, "21:00, 4 min of fill and 6 of hold")
	from := r.control.benches[0].elapsedFrom
	r.now.Trusted = false
	r.turn()
	e = r.control.nextEnd(0)
	require.True(t, e.ok)
	assert.Equal(t, 12*time.Hour+10*time.Minute, e.at-from, "an interval after the last")
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1)))
	assert.False(t, r.control.nextEnd(0).ok)
}

func TestAMessageIsToBeHeardBeforeTheFirstCropItConcernsRunsOut(t *testing.T) {
	s := eachSetup(40*time.Hour, []string{"09:00"}, []string{"09:00"}, []string{"09:00"})
	s.Plans[1].Stages[0].CanWait = 30 * time.Hour
	s.Batches[2].Closed = schedule.DateOf(2026, 3, 1)
	s.remake()
	r := newRig(t, s, "2026-03-02 08:00")
	at := func(b int) time.Duration { return r.control.waitsUntil(b).Sub(r.now.Wall) }
	assert.Equal(t, 40*time.Hour, at(0))
	assert.Equal(t, 30*time.Hour, at(1))
	assert.True(t, r.control.waitsUntil(2).IsZero())
	assert.Equal(t, 30*time.Hour, at(-1))
}

func TestNoCatchUpComesWithoutAnOccasion(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00"), "2026-03-02 08:00") // the gap is longer than the crop can wait
	r.run(3 * tomorrow)
	assert.Len(t, r.rows(), 3)
	r.tables[0].dead = true
	r.run(2 * tomorrow) // a latch is none, but its reset will be
	for _, f := range r.rows() {
		assert.Equal(t, BySchedule, f.Cause)
	}
}

// A slot whose bench has to wait for a neighbour's flood comes so much later: the crop
// is held against that.
func TestACatchUpReckonsWithTheTurnOfANeighbour(t *testing.T) {
	for name, tt := range map[string]struct {
		wait    time.Duration
		catches int
	}{"before its turn comes": {24*time.Hour - 5*time.Minute, 1}, "after it": {24*time.Hour + 5*time.Minute, 0}} {
		r := newRig(t, eachSetup(tt.wait, []string{"08:55"}, []string{"09:00"}), "2026-03-02 08:00")
		r.run(4 * time.Hour)
		require.NoError(t, r.control.Pause(r.now, 1, r.now.Wall.Add(2*tomorrow), ""))
		r.until("2026-03-03 06:00:00")
		require.NoError(t, r.control.Resume(r.now, 1))
		r.run(2 * time.Hour)
		n := 0
		for _, f := range r.rows() {
			if f.Cause == ByCatchUp && f.Bench == 1 {
				n++
			}
		}
		assert.Equal(t, tt.catches, n, name)
	}
}

// A pause that is lifted is an occasion for a catch-up where the crop could not
// wait for its next slot.
func TestACatchUpIsAskedForOnlyWhereTheNextSlotComesTooLate(t *testing.T) {
	for name, tt := range map[string]struct {
		wait    time.Duration
		lifted  string
		catches int
	}{
		"in time":  {48 * time.Hour, "2026-03-03 06:00:00", 0},
		"too late": {20 * time.Hour, "2026-03-03 06:00:00", 1},
		"too late, a cycle and a drain before it":  {20 * time.Hour, "2026-03-03 08:23:00", 1},
		"too late, just that long before it":       {20 * time.Hour, "2026-03-03 08:24:00", 1},
		"too late, so soon that it would crowd it": {20 * time.Hour, "2026-03-03 08:25:00", 0},
		"while the slot waits":                     {20 * time.Hour, "2026-03-03 09:30:00", 0},
	} {
		r := newRig(t, testSetup(1, tt.wait, "09:00"), "2026-03-02 08:00")
		r.run(2 * time.Hour)
		require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(2*tomorrow), ""))
		r.until(tt.lifted)
		require.NoError(t, r.control.Resume(r.now, 0))
		r.run(3 * time.Hour)
		n := 0
		for _, f := range r.rows() {
			if f.Cause == ByCatchUp {
				n++
			}
		}
		assert.Equal(t, tt.catches, n, name)
		r.until("2026-03-03 13:00:00")
		slot := r.slots()[schedule.CivilOf(2026, 3, 3, 9, 0, 0)]
		assert.Equal(t, Proven, slot.Outcome, name)
	}
}

func TestElapsedTimeKnowsNoCatchUp(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(2*tomorrow), ""))
	r.until("2026-03-03 06:00:00")
	r.now.Trusted = false
	r.turn()
	require.NoError(t, r.control.Resume(r.now, 0))
	assert.Empty(t, r.control.benches[0].queue)
}

func TestACatchUpIsForTheCropsOfItsBench(t *testing.T) {
	s := eachSetup(48*time.Hour, []string{"09:00"}, []string{"15:00"})
	s.Plans[1].Stages[0].CanWait = 12 * time.Hour
	s.remake()
	r := newRig(t, s, "2026-03-02 08:00")
	r.run(10 * time.Hour)
	for b := range 2 {
		require.NoError(t, r.control.Pause(r.now, b, r.now.Wall.Add(tomorrow), ""))
	}
	r.until("2026-03-03 02:00:00")
	require.NoError(t, r.control.Resume(r.now, 0))
	assert.Empty(t, r.control.benches[0].queue)
	require.NoError(t, r.control.Resume(r.now, 1))
	assert.Len(t, r.control.benches[1].queue, 1)
}

// A slot, a reset and the end of a pause are matters of their own bench: what waits
// on another goes on waiting, and nothing is asked for there.
func TestWhatHappensToOneBenchAsksNothingOfAnother(t *testing.T) {
	s := apart(eachSetup(100*time.Hour, []string{"09:00"}, []string{"20:00"}))
	s.Plans[1].Stages[0].CanWait = 12 * time.Hour
	s.remake()
	needy := func() *rig { // south cannot wait for its slot; its reservoir is low
		r := newRig(t, s, "2026-03-02 08:00")
		r.turn()
		r.tables[1].lowDry = true
		r.control.crops[1].since = r.now.Mono - 3*time.Hour
		return r
	}
	queued := func(r *rig) (causes []Cause) {
		for _, j := range r.control.benches[1].queue {
			causes = append(causes, j.flood.Cause)
		}
		return causes
	}

	r := needy()
	r.until("2026-03-02 08:59:00")
	r.control.reconsiderBench(1)
	require.Equal(t, []Cause{ByCatchUp}, queued(r))
	r.until("2026-03-02 09:01:00")
	require.True(t, r.command.On(1), "the slot of north")
	assert.Equal(t, []Cause{ByCatchUp}, queued(r), "north's slot leaves it waiting")
	r.tables[1].lowDry = false
	r.run(30 * time.Minute)
	assert.Greater(t, r.pumped[2], time.Minute, "and it floods once it can")

	r = needy()
	r.until("2026-03-02 08:30:00")
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(tomorrow), ""))
	require.NoError(t, r.control.Resume(r.now, 0))
	assert.Empty(t, queued(r), "the end of north's pause")

	r = needy()
	r.tables[0].dead = true
	r.until("2026-03-02 11:30:00")
	r.tables[0].dead = false
	assert.Equal(t, []bool{true, false}, []bool{r.control.crops[0].trouble, r.control.crops[1].trouble}, "north's flood that failed")
	require.NoError(t, r.guard.Reset(r.now, 0, "unplugged"))
	r.turn()
	r.turn()
	assert.Empty(t, queued(r), "north's reset")

	r = needy()
	r.skip()
	r.until("2026-03-02 09:01:00")
	assert.Equal(t, []bool{true, false}, []bool{r.control.crops[0].dry, r.control.crops[1].dry}, "north's skip")
}

// A catch-up that still waits when a slot of its bench comes due has nothing more to
// do: it is no flood that was missed.
func TestASlotTakesThePlaceOfTheCatchUpOfItsBench(t *testing.T) {
	r := newRig(t, eachSetup(100*time.Hour, []string{"06:00"}, []string{"09:00"}), "2026-03-02 08:20")
	r.until("2026-03-02 08:50:00")
	require.NoError(t, r.control.Flood(r.now, 0, 0)) // north has the reservoir
	r.until("2026-03-02 08:59:00")
	south := &r.control.benches[1]
	south.queue = append(south.queue, r.control.newJob(1, ByCatchUp, r.now.Wall, queueFor))
	r.until("2026-03-02 09:00:00")
	require.Len(t, south.queue, 1)
	assert.Equal(t, BySchedule, south.queue[0].flood.Cause)
	r.run(3 * time.Hour)
	for _, f := range r.rows() {
		assert.Equal(t, Proven, f.Outcome, "%s of bench %d", f.Cause, f.Bench)
	}
	assert.Len(t, r.rows(), 2)
}

func TestACropIsWatchedWhateverStandsBesideIt(t *testing.T) {
	s := eachSetup(48*time.Hour, []string{"09:00"}, []string{"09:00"})
	s.Batches[0].Closed = schedule.DateOf(2026, 3, 1)
	s.remake()
	r := newRig(t, s, "2026-03-02 08:00")
	r.tables[1].dead = true
	r.run(3 * time.Hour)
	assert.Equal(t, 1, r.told("crop-basil_south"))
}

func TestATurnIsAskedForWhereACropIsToldOfNext(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].dead = true
	r.until("2026-03-03 13:59:59")
	r.pass(time.Second)
	r.turn()
	require.Len(t, r.cropTold(), 2)
	assert.Equal(t, 10*time.Hour, r.control.Next()-r.now.Mono)
}

func TestAFloodThatEndsJustInTimeIsInTime(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
	r.turn()
	e := r.control.nextEnd(0)
	require.True(t, e.ok)
	for since, late := range map[time.Duration]bool{e.at - 40*time.Hour: false, e.at - 40*time.Hour - 1: true} {
		r.control.crops[0].since = since
		a := r.control.ahead(0)
		assert.Equal(t, late, r.control.crops[0].tooLate(&a, 40*time.Hour))
		assert.Equal(t, late, r.control.needsCatchUp(0))
	}
}

func TestGapLongerThanTheCropCanWaitIsTold(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.wantMessage("The next planned flood comes later than that")
}

func TestResetBringsACatchUpWhenTheCropCannotWait(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(2 * time.Hour)
	r.tables[0].dead = true
	r.run(tomorrow + 4*time.Hour) // the second day's flood fails and latches
	r.tables[0].dead = false
	require.NoError(t, r.guard.Reset(r.now, 0, "pump was unplugged"))
	r.run(2 * time.Hour)
	last := r.rows()[len(r.rows())-1]
	assert.Equal(t, ByCatchUp, last.Cause)
	assert.Equal(t, Proven, last.Outcome)
	assert.True(t, last.Watched)
	r.wantMessage("first flood after the reset is proven")
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

// A flood that waited behind another one ends for the reason that kept both.
func TestAFloodBehindOneThatIsRefusedIsRefusedToo(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "10:30"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.until("2026-03-02 08:59:00")
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.until("2026-03-02 10:20:00")
	f := r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)]
	assert.Equal(t, Refused, f.Outcome)
	assert.Contains(t, f.Reason, "reservoir-low")
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

func TestASkipIsOverOnceTheCropIsWatered(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	_, err := r.control.SkipNext(r.now, 0)
	require.NoError(t, err)
	r.until("2026-03-03 01:00:00")
	r.wantMessage("Its flood was skipped by hand, and the next one comes too late.")
	r.messages = nil
	r.until("2026-03-03 12:00:00")
	require.Equal(t, Proven, r.control.benches[0].last.Outcome)
	r.wantMessage("it can wait 20 h. The next planned flood comes later than that.")
}

// A flood whose pump has run once and that waits for its second try is on record: no
// slot takes its place.
func TestASecondTryIsNotWithdrawn(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	c := r.control
	for _, outcome := range []Outcome{"", Unproven} {
		j := c.newJob(0, ByCatchUp, r.now.Wall, queueFor)
		j.outcome = outcome
		c.benches[0].queue = []job{j}
		c.withdraw(ByCatchUp)
		assert.Equal(t, outcome != "", len(c.benches[0].queue) == 1, "%q", outcome)
	}
}

// A batch that leaves its bench takes its troubles with it: should it come back, it
// counts from then.
func TestABatchWithoutAStageHasNoTroubles(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	r.control.crops[0] = cropClock{since: r.now.Mono - time.Hour, trouble: true, dry: true, level: 2}
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1)))
	r.run(time.Minute)
	r.turn()
	assert.Equal(t, cropClock{since: r.now.Mono, noFlood: true}, r.control.crops[0])
}
