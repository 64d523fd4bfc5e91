package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lowUntil keeps the low switch dry from the start of the day until then, and runs
// to the end of the next day.
func lowUntil(t *testing.T, canWait time.Duration, clock string) *rig {
	r := newRig(t, testSetup(1, canWait, "09:00"), "2026-03-02 08:00")
	r.run(20 * time.Hour)
	require.Equal(t, Proven, r.rows()[0].Outcome)
	r.tables[0].lowDry = true
	r.until(clock)
	r.tables[0].lowDry = false
	r.until("2026-03-04 10:00:00")
	return r
}

func TestAFloodThatCouldNotStartIsMadeUpForOnceItCan(t *testing.T) {
	type row struct {
		cause   Cause
		outcome Outcome
	}
	first := row{BySchedule, Proven}
	for name, tt := range map[string]struct {
		canWait time.Duration
		filled  string
		want    []row
	}{
		"in time for its slot":               {30 * time.Hour, "2026-03-03 10:30:00", []row{{BySchedule, Proven}, {BySchedule, Proven}}},
		"after it was given up":              {30 * time.Hour, "2026-03-03 13:00:00", []row{{BySchedule, Refused}, {ByCatchUp, Proven}, {BySchedule, Proven}}},
		"the crop can wait for the next one": {60 * time.Hour, "2026-03-03 13:00:00", []row{{BySchedule, Refused}, {BySchedule, Proven}}},
		"the next one is near":               {30 * time.Hour, "2026-03-04 08:45:00", []row{{BySchedule, Refused}, {BySchedule, Proven}}},
	} {
		t.Run(name, func(t *testing.T) {
			r := lowUntil(t, tt.canWait, tt.filled)
			var got []row
			for _, f := range r.rows() {
				got = append(got, row{f.Cause, f.Outcome})
			}
			assert.Equal(t, append([]row{first}, tt.want...), got)
		})
	}
}

func TestWhoIsToldOfAFloodThatCannotStartHearsThatItMayBeMadeUpFor(t *testing.T) {
	lowUntil(t, 30*time.Hour, "2026-03-03 13:00:00").wantMessage("Should the plants not last until the next, one comes as soon as it can start.")
}

// A neighbour whose water is out for hours may not keep a bench without any, day
// after day, whichever of the two the file has first.
func TestANeighbourThatTakesLongStarvesNobody(t *testing.T) {
	for slow, starved := range []int{1, 0} {
		times := [][]string{{"09:05"}, {"09:05"}}
		times[slow] = []string{"09:00", "15:00"}
		s := eachSetup(20*time.Hour, times...)
		s.Limits.Benches[slow].Drain = 3 * time.Hour
		r := newRig(t, s, "2026-03-02 08:00")
		r.tables[slow].blocked = true
		r.run(9 * time.Hour)
		r.tables[slow].blocked = false
		r.run(14 * time.Hour)
		assert.Equal(t, []Cause{ByCatchUp}, counted(r, starved), "its slot of 09:05 had no turn before 11:05")
	}
}

// Nothing else may wake the program for hours once a neighbour's flood has ended.
func TestWhatIsMadeUpForFollowsANeighbourAtOnce(t *testing.T) {
	for waits, other := range []int{1, 0} {
		times := [][]string{{"09:00"}, {"09:00"}}
		times[other] = []string{"11:00"}
		r := newRig(t, eachSetup(20*time.Hour, times...), "2026-03-02 08:00")
		r.until("2026-03-02 11:02:00")
		r.control.benches[waits].owed = true
		r.control.crops[waits].since -= 30 * time.Hour
		r.run(3 * time.Hour)
		rows := r.rows()
		last := rows[len(rows)-1]
		assert.Equal(t, ByCatchUp, last.Cause)
		assert.Equal(t, rows[len(rows)-2].Ended, last.Due)
	}
}

// counted are the causes of the floods of a bench that counted.
func counted(r *rig, bench int) (causes []Cause) {
	for _, f := range r.rows() {
		if f.Bench == bench && f.Counted {
			causes = append(causes, f.Cause)
		}
	}
	return causes
}

func TestAFloodThatAPersonStopsIsNotMadeUpFor(t *testing.T) {
	r := newRig(t, testSetup(1, 20*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.until("2026-03-02 09:30:00")
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.until("2026-03-02 13:00:00")
	r.tables[0].lowDry = false
	r.run(4 * time.Hour)
	require.Len(t, r.rows(), 1)
	assert.NotEqual(t, ByCatchUp, r.rows()[0].Cause)
}
