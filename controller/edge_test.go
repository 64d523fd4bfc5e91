package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

func TestAFreeReservoirIsNotKeptWaitingByAnother(t *testing.T) {
	r := newRig(t, apart(eachSetup(48*time.Hour, []string{"09:00"}, []string{"09:05"})), "2026-03-02 08:00")
	r.until("2026-03-02 09:06:00")
	assert.True(t, r.command.On(1) && r.command.On(2))
}

func TestABatchIsKeptLongerOnItsLastDay(t *testing.T) {
	r := newRig(t, stagedSetup(t, false), "2026-03-05 12:00")
	r.turn()
	today := schedule.DateOf(2026, 3, 5)
	require.NoError(t, r.control.Close(r.now, 0, today))
	require.NoError(t, r.control.Close(r.now, 0, today.AddDays(1)))
	require.NoError(t, r.control.Close(r.now, 0, 0))
	var said []string
	for _, e := range r.control.TakeEvents() {
		if e.Kind == BatchClosed {
			said = append(said, e.Text)
		}
	}
	assert.Equal(t, []string{"closed, last day 2026-03-05", "closed, last day 2026-03-06", "open again"}, said)
}

func TestANewRuleBeginsByAClockThatIsTrusted(t *testing.T) {
	r := newRig(t, stagedSetup(t, false), "2026-03-05 10:00")
	r.until("2026-03-05 11:30:00")
	r.now.Trusted = false
	r.stepWall(time.Hour)
	r.turn()
	require.NoError(t, r.control.Advance(r.now, 0, 2))
	r.run(time.Minute)
	r.stepWall(-time.Hour)
	r.now.Trusted = true
	r.run(2 * time.Hour)
	assert.Equal(t, []string{"05T12:00 proven"}, r.slotsFrom("2026-03-05"))
}

func TestAnElapsedFloodStandsForASlotWithinHalfAnInterval(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 12:00") // every 8 h
	r.turn()
	c, s := r.control, &r.control.benches[0]
	due := r.now.Wall.Add(9 * time.Hour)
	half := c.monoOf(due) - 4*time.Hour
	for _, tt := range []struct {
		regained time.Time
		at       time.Duration
		stands   bool
	}{
		{r.now.Wall, half + 1, true}, {r.now.Wall, half, false}, {time.Time{}, half + 1, false}, {r.now.Wall, 0, false},
	} {
		c.clock.regain, s.elapsedAt = tt.regained, tt.at
		assert.Equal(t, tt.stands, c.clock.floodedInstead(c, 0, due), "%+v", tt)
	}
}

func TestAClockThatWasTwoHoursAheadWasRightEnough(t *testing.T) {
	for _, tt := range []struct {
		ahead  time.Duration
		cursor schedule.Civil // beyond the clock
		back   bool
	}{{rearmBeyond, 1, false}, {rearmBeyond + 1, 1, true}, {rearmBeyond + 1, 0, false}, {rearmBeyond + 1, -1, false}} {
		r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
		r.turn()
		c, s := r.control, &r.control.benches[0]
		here := schedule.CivilIn(r.now.Wall.Add(-time.Second), dublin)
		cursor, relived := here+tt.cursor, schedule.Civil(0)
		c.clock.far, s.cursor = r.now.Wall.Add(tt.ahead), cursor
		c.rearm()
		if tt.back {
			cursor, relived = here, cursor
		}
		assert.Equal(t, cursor, s.cursor, "%+v", tt)
		assert.Equal(t, relived, s.relived, "%+v", tt)
	}
}

// A slot that comes a second time needs no flood where the last that counted is
// at most half an interval older, and serves until the slot after it has held.
func TestAWateredBenchNeedsNoFloodAtATimeThatComesTwice(t *testing.T) {
	for wait, edge := range map[time.Duration]string{20 * time.Hour: "11:00", 8 * time.Hour: "13:10"} {
		times := []string{"09:00", "15:00", "21:00"}
		r := newRig(t, eachSetup(wait, times, times), "2026-03-02 14:00")
		r.turn()
		c := r.control
		at := c.monoOf(schedule.CivilOf(2026, 3, 2, 0, 0, 0).In(dublin).Add(time.Duration(timeOfDay(t, edge)) * time.Second))
		slot := schedule.CivilOf(2026, 3, 2, 15, 0, 0)
		p, ok := c.setup.Calendar.After(1, slot-1)
		require.True(t, ok)
		c.crops[0].since = 0 // the other bench's
		for since, watered := range map[time.Duration]bool{at: true, at - 1: false} {
			c.crops[1].since = since
			assert.Equal(t, watered, c.wateredFor(1, &p), "can wait %v", wait)
		}
	}
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 13:00")
	r.turn()
	r.control.benches[0].relived = schedule.CivilOf(2026, 3, 2, 15, 0, 0)
	r.until("2026-03-02 15:05:00")
	assert.Empty(t, r.rows(), "the last of them does not need one either")
}

func TestByElapsedTimeNothingFloodsAnEmptyBenchOrQueuesTwice(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 1)))
	r.now.Trusted = false
	r.run(2 * tomorrow)
	assert.Empty(t, r.rows())

	var hourly []string
	for h := range 24 {
		hourly = append(hourly, time.Date(2026, 3, 2, h, 30, 0, 0, time.UTC).Format("15:04"))
	}
	r = newRig(t, testSetup(1, 40*time.Hour, hourly...), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.now.Trusted = false
	r.run(2*time.Hour + 30*time.Minute)
	assert.Len(t, r.control.benches[0].queue, 1)
}

func TestTheDateGoesOnFromTheLastTrustedOne(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 12:00")
	r.run(4 * tomorrow)
	r.now.Trusted = false
	r.stepWall(-500 * tomorrow)
	r.run(6 * time.Hour)
	assert.Equal(t, schedule.DateOf(2026, 3, 6), r.control.today())
	r.run(8 * time.Hour)
	assert.Equal(t, schedule.DateOf(2026, 3, 7), r.control.today())
}

func TestAStageThatIsAskedForIsLookedForAtMidnight(t *testing.T) {
	for asked, wake := range map[bool]string{true: "06 00:00", false: "06 09:00"} {
		r := newRig(t, stagedSetup(t, asked), "2026-03-05 12:00")
		r.turn()
		assert.Equal(t, wake, r.now.Wall.Add(r.control.Next()-r.now.Mono).In(dublin).Format("02 15:04"))
	}
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
	end, ok := r.control.nextEnd(0)
	require.True(t, ok)
	for since, late := range map[time.Duration]bool{end - 40*time.Hour: false, end - 40*time.Hour - 1: true} {
		r.control.crops[0].since = since
		assert.Equal(t, late, r.control.tooLate(0, 40*time.Hour))
		assert.Equal(t, late, r.control.needsCatchUp(0))
	}
}

func TestTheBuzzerIsAnyOutputAndSoundsForItsTimeAlone(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Outputs[0] = safety.OutputLimits{Name: "buzzer", Kind: safety.Other, Enable: -1}
	s.Limits.Outputs[1].Enable = -1
	s.Buzzer, s.BuzzBefore = 0, 2*time.Second
	for _, stop := range []bool{false, true} {
		r := newRig(t, s, "2026-03-02 08:00")
		r.storage = false // so that the start waits for longer
		r.until("2026-03-02 09:00:01")
		assert.True(t, r.command.On(0))
		if stop {
			require.NoError(t, r.control.StopFlood(r.now, 0))
			r.turn()
		} else {
			r.until("2026-03-02 09:00:02")
		}
		assert.False(t, r.command.On(0))
	}
}

func TestASlotIsGivenUpAtItsDeadline(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 11:00")
	r.turn()
	_, gone := r.control.goneBy(0, &job{deadline: r.now.Mono})
	assert.True(t, gone)
	_, gone = r.control.goneBy(0, &job{deadline: r.now.Mono + 1})
	assert.False(t, gone)
	slot := schedule.CivilOf(2026, 3, 2, 9, 0, 0)
	r.control.resumeFlood(Flood{ID: 1, HasSlot: true, Slot: slot, Due: slot.In(dublin)})
	assert.Empty(t, r.control.benches[0].queue)
	assert.Equal(t, Missed, r.control.benches[0].last.Outcome)
}

func TestTheOtherReservoirsBenchesTakeNoTurnInAGroup(t *testing.T) {
	s := testSetup(3, 48*time.Hour, "09:00")
	s.Limits.Reservoirs = append(s.Limits.Reservoirs, s.Limits.Reservoirs[0])
	s.Limits.Benches[1].Reservoir = 1
	r := newRig(t, s, "2026-03-01 08:00")
	slot := schedule.CivilOf(2026, 3, 2, 9, 0, 0)
	for b, want := range []string{"11:24", "11:00", "11:24"} {
		assert.Equal(t, want, r.control.deadline(b, slot, slot.In(dublin)).In(dublin).Format("15:04"))
	}
}

func TestAFloodThatFailedOrWasInterruptedIsTold(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].dead = true
	r.run(2 * time.Hour)
	r.wantMessage("the flood of Mon 2 Mar 09:00 is unproven: fill-window")

	r = newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 09:09:00")
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.run(time.Hour)
	assert.True(t, r.rows()[0].Counted, "five of six minutes")
	r.wantMessage("the flood of Mon 2 Mar 09:00 is interrupted: stopped by hand")
}

// resumed is a controller that has been back for an hour after an outage of
// unknown length that counted as a day.
func resumed(t *testing.T) *rig {
	r := newRig(t, testSetup(2, 48*time.Hour, "09:00"), "2026-03-02 12:00")
	r.run(2 * time.Hour)
	r.control.TakeEvents()
	c := r.control
	c.outage = outage{was: true, trusted: true, from: r.now.Wall.Add(-6 * time.Hour), resumed: r.now.Mono - time.Hour}
	for b := range c.benches {
		c.benches[b].assumed = tomorrow
	}
	return r
}

func TestAnOutageIsMeasuredFromItsTrustedEnds(t *testing.T) {
	for name, tt := range map[string]struct {
		change   func(*outage)
		measured bool
	}{
		"both trusted":            {func(*outage) {}, true},
		"of no length":            {func(o *outage) { o.from = o.from.Add(5 * time.Hour) }, true},
		"known already":           {func(o *outage) { o.known = true }, false},
		"begun without trust":     {func(o *outage) { o.trusted = false }, false},
		"none":                    {func(o *outage) { o.was = false }, false},
		"that ends before itself": {func(o *outage) { o.from = o.from.Add(5*time.Hour + 1) }, false},
	} {
		r := resumed(t)
		c := r.control
		tt.change(&c.outage)
		at := c.outage.resumed
		for b, from := range []time.Duration{at - 1, at} {
			c.benches[b].elapsedFrom, c.crops[b].since = from, from
		}
		gap := at - (r.now.Mono - r.now.Wall.Sub(c.outage.from))
		c.measureOutage()
		shifted := at - 1
		if tt.measured {
			shifted += tomorrow - gap
			assert.Equal(t, gap, c.outage.length, name)
		}
		assert.Equal(t, shifted, c.benches[0].elapsedFrom, name)
		assert.Equal(t, shifted, c.crops[0].since, name)
		assert.Equal(t, at, c.benches[1].elapsedFrom, "%s: what began after it is left", name)
		assert.Equal(t, at, c.crops[1].since, "%s: what began after it is left", name)
	}
}

func TestAnOutageIsOpenUntilItIsKnownOrTold(t *testing.T) {
	assert.True(t, (&outage{was: true}).open())
	for _, o := range []outage{{}, {was: true, known: true}, {was: true, told: true}, {was: true, known: true, told: true}} {
		assert.False(t, o.open())
	}
}

func TestAnOutageIsToldOnceIfThereWasOne(t *testing.T) {
	for drift, text := range map[time.Duration]string{stepLimit: "It was off from", stepLimit + 1: "the clock was set meanwhile"} {
		r := resumed(t)
		o := &r.control.outage
		o.known, o.length, o.to = true, 3*time.Hour, o.from.Add(3*time.Hour+drift)
		r.control.tellOfOutage()
		r.control.tellOfOutage()
		*o = outage{}
		r.control.tellOfOutage()
		for _, e := range r.control.TakeEvents() {
			r.note(e)
		}
		assert.Equal(t, 1, r.told("outage"))
		r.wantMessage(text)
	}
}
