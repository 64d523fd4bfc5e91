package grow

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// A stage that is advised lets plants wait no longer than their pots last after the
// last flood of its days, and longer than until the next one.
func TestAdviceAllowsNoLongerWaitThanPotsLast(t *testing.T) {
	var advised int
	for _, on := range []string{"2026-03-02", "2026-05-01", "2026-06-20", "2026-11-20"} {
		for _, age := range []int{3, 12, 20, 40, 60} {
			from := date(t, on)
			plan := schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "07:00", "10:00", "13:00", "16:00", "19:00")}}
			s := under(t, plan, schedule.Batch{Name: "b", Transplanted: from.AddDays(-age)})
			for _, a := range must(s.Advise(0, from, 14)) {
				if a.Verdict == Fits || a.Verdict == Beyond {
					continue
				}
				last := a.Stage.At[len(a.Stage.At)-1]
				gap := longestGap(a.Stage.At) + time.Duration(max(1, a.Stage.Every)-1)*24*time.Hour
				lasts, err := s.PotsLast(0, a.To.At(last).In(time.UTC).Add(a.Stage.Hold), a.Stage.Hold, week, 1, time.UTC)
				require.NoError(t, err)
				assert.LessOrEqual(t, a.Stage.CanWait, lasts, "%s, day %d: %s", on, age, a.Words)
				assert.Greater(t, a.Stage.CanWait, gap, "%s, day %d: %s", on, age, a.Words)
				advised++
			}
		}
	}
	assert.GreaterOrEqual(t, advised, 20)
}

// What a younger batch on the bench withholds from an older one for a time never gets
// into the plan that is advised for the older one.
func TestAdviceIsOfTheBatchsOwnPlanAndNotOfACompromise(t *testing.T) {
	weak, full := stage(t, 0, "12:00"), stage(t, 20, "09:00", "15:00")
	weak.Strength, weak.Hold, weak.CanWait = 0.25, 4*time.Minute, 48*time.Hour
	full.Strength, full.Hold, full.CanWait = 1, 8*time.Minute, 30*time.Hour
	plan := schedule.Plan{Name: "p", Stages: []schedule.Stage{weak, full}}
	from := date(t, "2026-06-01")
	s := under(t, plan, schedule.Batch{Name: "old", Transplanted: from.AddDays(-25)}, schedule.Batch{Name: "young", Transplanted: from.AddDays(-2)})
	given, _ := s.Calendar.Governs(0, from)
	require.InDelta(t, 0.25, given.Strength, 0, "a compromise rules the bench")
	advice := must(s.Advise(0, from, 40))
	require.NotEqual(t, Fits, advice[0].Verdict, "something is advised")
	for _, st := range Follow(plan, advice).Stages {
		want := full
		if st.FromDay < 20 {
			want = weak
		}
		assert.InDelta(t, want.Strength, st.Strength, 0, "from day %d", st.FromDay)
		assert.GreaterOrEqual(t, st.Hold, want.Hold, "from day %d", st.FromDay)
	}
}
