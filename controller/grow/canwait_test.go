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
