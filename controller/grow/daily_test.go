package grow

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// The span is the narrower the more of these very plants is on record.
func TestADailyNeedHasTheSpanOfWhatIsKnown(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02")})
	from := date(t, "2026-04-11")
	worked, err := s.worked([]int{0}, from, from.AddDays(7), Normal)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		use    Use
		closed string
		want   span
	}{
		"by the file alone":         {Use{Scale: 1}, "", unlearned},
		"what went is no use":       {Use{Scale: 1, Wrong: true}, "", unlearned},
		"learned":                   {Use{Scale: 1.2, Since: date(t, "2026-04-06")}, "", learned},
		"they leave on the last":    {Use{Scale: 1.2, Since: date(t, "2026-04-06")}, "2026-04-17", mixed},
		"they leave afterwards":     {Use{Scale: 1.2, Since: date(t, "2026-04-06")}, "2026-04-18", learned},
		"they came while it learnt": {Use{Scale: 1.2, Since: date(t, "2026-03-02")}, "", mixed},
		"they came before":          {Use{Scale: 1.2, Since: date(t, "2026-03-03")}, "", learned},
	} {
		if s.Batches[0].Closed = 0; c.closed != "" {
			s.Batches[0].Closed = date(t, c.closed)
		}
		d, err := s.Daily([]int{0}, c.use, from, 7)
		require.NoError(t, err, name)
		assert.InEpsilon(t, float64(worked), float64(d.Litres), 1e-9, name)
		assert.InEpsilon(t, c.want.low*float64(worked), float64(d.Low), 1e-9, name)
		assert.InEpsilon(t, c.want.high*float64(worked), float64(d.High), 1e-9, name)
	}
}

// What plants use each day goes out of the reservoir until it is down to what it keeps.
func TestAReservoirLastsBetweenThirstAndItsLitres(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02"), Closed: date(t, "2026-05-20")})
	on, from := []int{0}, date(t, "2026-04-02")
	use := Use{Scale: 1, Since: date(t, "2026-03-20")}
	uses := func(days int) demand.Litres {
		daily, err := s.worked(on, from, from.AddDays(days), Normal)
		require.NoError(t, err)
		return daily * demand.Litres(days)
	}
	r, err := s.DaysLeft(on, use, from, 20+uses(30), 0, 20)
	require.NoError(t, err)
	assert.InDelta(t, 30, r.Days, 1e-9)
	assert.Less(t, r.Days, float64(uses(30)/uses(1)), "they grow")
	for _, end := range []struct{ days, times float64 }{{r.Low, learned.high}, {r.High, learned.low}} {
		whole := int(end.days)
		assert.Less(t, float64(uses(whole))*end.times, float64(uses(30)))
		assert.Greater(t, float64(uses(whole+1))*end.times, float64(uses(30)))
	}
	sure, err := s.DaysLeft(on, use, from, 20+uses(30), 5, 20)
	require.NoError(t, err)
	assert.Less(t, sure.Low, r.Low)
	assert.Greater(t, sure.High, r.High)
	empty, err := s.DaysLeft(on, use, from, 20, 5, 20)
	require.NoError(t, err)
	assert.Equal(t, []float64{0, 0}, []float64{empty.Days, empty.Low})
	left, err := s.DaysLeft(on, use, from, 20+uses(80), 0, 20)
	require.NoError(t, err)
	assert.True(t, math.IsInf(left.High, 1), "they are gone before it is empty")
}

// Plants grow: the latest days of a record say what they use now.
func TestTheLatestDaysTeach(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02")})
	worked, err := s.worked([]int{0}, date(t, "2026-04-15"), date(t, "2026-04-20"), Normal)
	require.NoError(t, err)
	var entries []Entry
	for d := range 20 {
		times := 1.0
		if d < 14 {
			times = 0.5
		}
		entries = append(entries, on(float64(30+d), TopUp, times*float64(worked)))
	}
	use, err := s.Learn([]int{0}, entries, time.UTC)
	require.NoError(t, err)
	assert.InDelta(t, 1, use.Scale, 0.02)
	assert.Equal(t, date(t, "2026-04-15"), use.Since)
}

// What pots drink that came dry is not what their plants use.
func TestPotsThatCameAreFilledBeforeTheirPlantsUse(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-04-02")})
	worked, err := s.worked([]int{0}, date(t, "2026-04-01"), date(t, "2026-04-06"), Normal)
	require.NoError(t, err)
	b := &s.Batches[0].Demand
	lacked := arrives * demand.Litres(b.Pots) * b.Pot.Holds()
	require.Greater(t, lacked, demand.Litres(1))
	var entries []Entry
	for d := range 6 {
		entries = append(entries, on(float64(30+d), TopUp, float64(worked+lacked/5)))
	}
	use, err := s.Learn([]int{0}, entries, time.UTC)
	require.NoError(t, err)
	assert.InDelta(t, 1, use.Scale, 1e-9)
}
