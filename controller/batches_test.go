package controller

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// stagedSetup has one batch, transplanted on 1 March, with one flood a day, two
// from day 10 and three from day 24.
func stagedSetup(asked bool) Setup {
	s := testSetup(1, 48*time.Hour, "09:00")
	stage := func(from int, canWait time.Duration, at ...string) schedule.Stage {
		st := testSetup(1, canWait, at...).Plans[0].Stages[0]
		st.FromDay = from
		return st
	}
	s.Plans[0].Stages = append(s.Plans[0].Stages, stage(10, 30*time.Hour, "08:30", "15:00"), stage(24, 20*time.Hour, "08:00", "12:00", "16:00"))
	s.Batches[0].Asked = asked
	s.remake()
	return s
}

func (r *rig) slotsFrom(from string) (all []string) {
	for _, f := range r.rows() {
		if s := f.Slot.String(); f.HasSlot && s >= from {
			all = append(all, strings.TrimPrefix(s, from[:8])+" "+string(f.Outcome))
		}
	}
	return all
}

func (r *rig) stagesBegun() (all []int) {
	for _, e := range r.events {
		if e.Kind == StageBegan {
			all = append(all, e.Stage)
		}
	}
	return all
}

func TestByAgeAStageBeginsByItselfAndIsRecorded(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-10 12:00")
	r.run(2 * 24 * time.Hour)
	assert.Equal(t, []string{"11T08:30 proven", "11T15:00 proven", "12T08:30 proven"}, r.slotsFrom("2026-03-11"))
	assert.Equal(t, []int{1}, r.stagesBegun())
	assert.Empty(t, r.messages)
}

func TestAskedAStageIsProposedOnItsDayOnceAndWaitsForAPersonsWord(t *testing.T) {
	s := stagedSetup(true)
	r := newRig(t, s, "2026-03-10 12:00")
	r.run(3*24*time.Hour + 4*time.Hour)
	assert.Equal(t, []string{"11T09:00 proven", "12T09:00 proven", "13T09:00 proven"}, r.slotsFrom("2026-03-11"))
	require.Len(t, r.messages, 1)
	assert.Equal(t, "today: basil north on north is 10 days old: its stage from day 10 is due (daily at 08:30 and 15:00, hold 6 min, strength 50 %). "+
		"Look at the plants, and advance it when they are ready. Until then it stays in its stage from day 0.", r.messages[0])

	require.NoError(t, r.control.Advance(r.now, 0, 1)) // at 16:00: 15:00 of the new stage is no slot
	require.ErrorContains(t, r.control.Advance(r.now, 0, 1), "in its stage from day 10 already")
	require.ErrorContains(t, r.control.Advance(r.now, 0, 3), `plan "basil" has no stage 4; it has 3`)
	r.restart(time.Hour, false)
	r.run(24 * time.Hour)
	assert.Equal(t, []string{"14T08:30 proven", "14T15:00 proven"}, r.slotsFrom("2026-03-14"))
	assert.Equal(t, []int{1}, r.stagesBegun())
	assert.Equal(t, 1, strings.Count(strings.Join(r.messages, "\n"), "is due"))
	assert.Nil(t, s.Batches[0].Passages, "the setup stays as it was given")
}

func TestABatchIsAdvancedAheadOfItsAgeAndAClosedOneIsNot(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-05 12:00")
	r.turn()
	require.NoError(t, r.control.Advance(r.now, 0, 2))
	r.run(24 * time.Hour)
	assert.Equal(t, []string{"05T16:00 proven", "06T08:00 proven"}, r.slotsFrom("2026-03-05"))
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 5)))
	require.ErrorContains(t, r.control.Advance(r.now, 0, 1), "does not stand on north today")
}

func TestAClosedBatchStopsItsFloodsAtOnceAndMayBeOpenedAgain(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-05 08:59")
	r.tables[0].lowDry = true // so that the flood of nine o'clock waits
	r.run(10 * time.Minute)
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 4)))
	require.ErrorContains(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 4)), "closed since 2026-03-04")
	r.tables[0].lowDry = false
	r.restart(time.Hour, false)
	r.run(3 * 24 * time.Hour)
	require.Len(t, r.rows(), 1)
	assert.Equal(t, Refused, r.rows()[0].Outcome)
	assert.Equal(t, "no batch stands on the bench any more", r.rows()[0].Reason)
	assert.Zero(t, r.control.CropRatio(0))

	require.NoError(t, r.control.Close(r.now, 0, 0))
	require.ErrorContains(t, r.control.Close(r.now, 0, 0), "nobody has closed it here")
	r.run(24 * time.Hour)
	assert.Equal(t, []string{"09T09:00 proven"}, r.slotsFrom("2026-03-06"))
}

func TestABatchOfTheSameNameThatWasTransplantedLaterIsAnotherOne(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-05 12:00")
	r.turn()
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 4)))
	s := r.down(time.Minute)
	r.setup = stagedSetup(false)
	r.setup.Batches[0].Transplanted++
	r.up(s, "boot")
	r.run(24 * time.Hour)
	assert.Equal(t, []string{"06T09:00 proven"}, r.slotsFrom("2026-03-05"))
}

func TestABatchIsKeptLongerOnItsLastDay(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-05 12:00")
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
	r := newRig(t, stagedSetup(false), "2026-03-05 10:00")
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

func TestAStageThatIsAskedForIsLookedForAtMidnight(t *testing.T) {
	for asked, wake := range map[bool]string{true: "06 00:00", false: "06 09:00"} {
		r := newRig(t, stagedSetup(asked), "2026-03-05 12:00")
		r.turn()
		assert.Equal(t, wake, r.now.Wall.Add(r.control.Next()-r.now.Mono).In(dublin).Format("02 15:04"))
	}
}

func TestAClosedBatchTakesItsFloodsAlongButNotThoseByHand(t *testing.T) {
	r := newRig(t, stagedSetup(false), "2026-03-05 08:59")
	r.tables[0].lowDry = true
	r.run(10 * time.Minute)
	require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
	require.Len(t, r.control.benches[0].queue, 2)
	require.NoError(t, r.control.Close(r.now, 0, schedule.DateOf(2026, 3, 4)))
	require.Len(t, r.control.benches[0].queue, 1)
	assert.Equal(t, ByHand, r.control.benches[0].queue[0].flood.Cause)
	r.tables[0].lowDry = false
	r.run(time.Hour)
	assert.Equal(t, "no batch stands on the bench any more", r.slots()[schedule.CivilOf(2026, 3, 5, 9, 0, 0)].Reason)
}

func TestABatchIsAdvancedOnItsFirstAndItsLastDay(t *testing.T) {
	for day, stands := range map[string]bool{"2026-02-28": false, "2026-03-01": true, "2026-03-07": true, "2026-03-08": false} {
		s := stagedSetup(false)
		s.Batches[0].Closed = schedule.DateOf(2026, 3, 7)
		s.remake()
		r := newRig(t, s, day+" 12:00")
		r.turn()
		err := r.control.Advance(r.now, 0, 1)
		if stands {
			assert.NoError(t, err, day)
		} else {
			assert.ErrorContains(t, err, "does not stand on north today", day)
		}
	}
	r := newRig(t, stagedSetup(false), "2026-03-12 12:00")
	r.turn()
	assert.NoError(t, r.control.Advance(r.now, 0, 0), "back to the first")
	assert.ErrorContains(t, r.control.Advance(r.now, 0, -1), "has no stage 0")
	assert.ErrorContains(t, r.control.Advance(r.now, 0, 3), "has no stage 4")
	for _, i := range []int{-1, 1} {
		assert.ErrorContains(t, r.control.Advance(r.now, i, 0), "no such batch")
		assert.ErrorContains(t, r.control.Close(r.now, i, 0), "no such batch")
	}
}

func TestABenchIsEmptiedOfWhatStandsOnItToday(t *testing.T) {
	s := testSetup(2, 48*time.Hour, "09:00")
	add := func(name string, from, last schedule.Date) {
		s.Batches = append(s.Batches, schedule.Batch{Name: name, Bench: 0, Transplanted: from, Closed: last})
	}
	today := schedule.DateOf(2026, 3, 5)
	s.Batches[0].Closed = today - 1
	add("planted_today", today, today)
	add("planned", today+1, 0)
	s.remake()
	r := newRig(t, s, "2026-03-05 12:00")
	r.turn()
	names, err := r.control.Empty(r.now, 0)
	require.NoError(t, err)
	assert.Equal(t, []string{"planted_today"}, names)
	assert.Zero(t, r.control.setup.Batches[1].Closed, "that of the other bench stays")
}

// A flood that a person asked for, or that is under way, is not the batch's.
func TestTheEndOfABatchLeavesFloodsThatAreNotItsOwn(t *testing.T) {
	yesterday := schedule.DateOf(2026, 3, 4)
	r := newRig(t, stagedSetup(false), "2026-03-05 12:00")
	r.storage = false
	r.run(time.Hour)
	require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
	r.turn()
	require.Equal(t, Recording, r.control.benches[0].phase)
	require.NoError(t, r.control.Close(r.now, 0, yesterday))
	assert.Equal(t, Recording, r.control.benches[0].phase, "by hand")

	r = newRig(t, stagedSetup(false), "2026-03-05 08:00")
	r.until("2026-03-05 09:01:00")
	require.Equal(t, Filling, r.control.benches[0].phase)
	require.NoError(t, r.control.Close(r.now, 0, yesterday))
	assert.Equal(t, Filling, r.control.benches[0].phase, "under way")
	r.run(time.Hour)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
}
