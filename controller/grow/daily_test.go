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

func TestAReservoirLastsBetweenThirstAndItsLitres(t *testing.T) {
	d := Daily{Litres: 5, Low: 4, High: 8}
	days, low, high := d.Lasting(70, 10, 20)
	assert.Equal(t, []float64{10, 5, 15}, []float64{days, low, high})
	days, low, high = d.Lasting(25, 10, 20)
	assert.Equal(t, []float64{1, 0, 3.75}, []float64{days, low, high})
	_, _, high = Daily{}.Lasting(70, 10, 20)
	assert.True(t, math.IsInf(high, 1))
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
