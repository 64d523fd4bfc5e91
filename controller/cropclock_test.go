package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
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
	require.Len(t, r.cropTold(), 3)
	assert.Equal(t, []string{"3 14:00:00 now", "4 00:00:00 now"}, r.cropTold()[1:], "30 and 40 h after it counted as watered")
	r.wantMessage("last watered 30 h ago; it can wait 40 h. 10 h are left.")
	r.wantMessage("before Wed 4 Mar 00:00")
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
	end, ok := r.control.nextEnd(0)
	require.True(t, ok)
	assert.Equal(t, 11*time.Hour+10*time.Minute, end-r.now.Mono, "21:00, 4 min of fill and 6 of hold")
	from := r.control.benches[0].elapsedFrom
	r.now.Trusted = false
	r.turn()
	end, ok = r.control.nextEnd(0)
	require.True(t, ok)
	assert.Equal(t, 12*time.Hour+10*time.Minute, end-from, "an interval after the last")
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1)))
	_, ok = r.control.nextEnd(0)
	assert.False(t, ok)
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

func TestAnElapsedFloodFollowsTheStageThatItsDateHasComeTo(t *testing.T) {
	r := newRig(t, stagedSetup(t, false), "2026-03-09 12:00") // one a day until the 11th, then two
	r.run(time.Hour)
	r.now.Trusted = false
	r.run(5 * tomorrow)
	n := 0
	for _, f := range r.rows() {
		require.Equal(t, ByElapsed, f.Cause)
		if f.Started.After(time.Date(2026, 3, 12, 0, 0, 0, 0, time.UTC)) {
			n++
		}
	}
	assert.GreaterOrEqual(t, n, 5, "two a day for two and a half days")
}

func TestAFirstStartWithoutADateTakesEveryBatchAsOnItsBench(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Plans[0].Stages[0].FromDay = 5
	s.remake()
	r := newRig(t, s, "1970-01-01 00:00")
	r.now.Trusted = false
	var err error
	r.control, err = New(s, r.now)
	require.NoError(t, err)
	r.run(2*tomorrow + time.Hour)
	assert.Len(t, r.rows(), 2)
	assert.Equal(t, schedule.DateOf(2026, 3, 6), r.control.firstDay())
}

func TestOnlyAStepOfMoreThanTwoSecondsIsOne(t *testing.T) {
	for step, is := range map[time.Duration]int{stepLimit: 0, stepLimit + 1: 1, -stepLimit: 0, -stepLimit - 1: 1} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.turn()
		r.stepWall(step)
		r.turn()
		assert.Equal(t, is, countKind(r, ClockStepped), step)
	}
}

func TestTheReservoirsTakeTheirTurnsByThemselves(t *testing.T) {
	r := newRig(t, apart(testSetup(3, 48*time.Hour, "09:00")), "2026-03-02 08:00")
	r.until("2026-03-02 09:02:00")
	assert.Equal(t, []bool{true, false, true}, []bool{r.command.On(1), r.command.On(2), r.command.On(3)}, "north and east, on a reservoir each")
	r.run(2 * time.Hour)
	for _, f := range r.rows() {
		assert.Equal(t, Proven, f.Outcome)
	}
}

func TestAProgramThatMayNotFloodUnattendedFloodsByHand(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Unattended = "not commissioned"
	r := newRig(t, s, "2026-03-02 08:00")
	r.until("2026-03-02 09:30:00")
	assert.False(t, r.command.On(1))
	r.wantMessage("may not start: attended: not commissioned")
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.run(time.Hour)
	for _, f := range r.rows() {
		if f.Cause == ByHand {
			assert.Equal(t, Proven, f.Outcome)
		}
	}
	r.until("2026-03-02 11:00:01")
	assert.Equal(t, Refused, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
	require.Len(t, r.rows(), 2)
}

func TestALowReservoirIsToldOfWhicheverItIs(t *testing.T) {
	told := func(r *rig) []int { return []int{r.told("low-tank"), r.told("low-cistern")} }
	r := newRig(t, apart(testSetup(3, 48*time.Hour, "09:00")), "2026-03-02 12:00")
	r.run(time.Hour)
	r.tables[2].lowDry = true
	r.run(5 * time.Minute)
	assert.Equal(t, []int{0, 1}, told(r))
	r.tables[0].lowDry = true
	r.run(30 * time.Second)
	r.tables[2].lowDry = false
	r.run(20 * time.Second)
	r.tables[2].lowDry = true
	r.run(30 * time.Second)
	assert.Equal(t, []int{1, 1}, told(r))
	r.run(5 * time.Minute)
	assert.Equal(t, []int{1, 2}, told(r), "the second once more, though the first is known to be low")
}

func TestTheOtherReservoirsWaterIsNoReasonToWait(t *testing.T) {
	r := newRig(t, apart(eachSetup(48*time.Hour, []string{"15:00"}, []string{"09:00"})), "2026-03-02 08:00")
	r.until("2026-03-02 09:05:00") // water stands on south, from the cistern
	r.tables[0].lowDry = true
	r.run(2 * time.Minute)
	assert.Equal(t, 1, r.told("low-tank"))
	r.tables[1].lowDry = true
	r.run(2 * time.Minute)
	assert.Zero(t, r.told("low-cistern"), "what is missing stands on the table")
}

func TestRefusalsOfTheGuardThatPassAreTriedWhenTheyDo(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	v := *r.guard.Observe(r.now, r.readings)
	v.Benches[0].Start = safety.Refusal{Interlock: safety.Starts, Until: r.now.Mono + 90*time.Minute}
	r.control.Step(r.now, &v)
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.control.Step(r.now, &v)
	assert.Equal(t, r.now.Mono+time.Hour, r.control.Next(), "the slot of nine o'clock")
	v.Benches[0].Start.Until = r.now.Mono + time.Minute
	r.control.Step(r.now, &v)
	assert.Equal(t, r.now.Mono+time.Minute, r.control.Next())
}
