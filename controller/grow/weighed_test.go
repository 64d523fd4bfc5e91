package grow

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// pairsOf are daily pairs of weighings from 1 April on, each with so many litres.
func pairsOf(litres float64, days int) (pairs []Gone) {
	for d := range days {
		from := on(float64(30+d), TopUp, 0).At
		pairs = append(pairs, Gone{from, from.Add(day), demand.Litres(litres)})
	}
	return pairs
}

func TestWeighingsTeachWhatPlantsUseWithoutADiary(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02")})
	worked, err := s.worked([]int{0}, date(t, "2026-04-06"), date(t, "2026-04-11"), Normal)
	require.NoError(t, err)
	took := func(d float64, times float64) Entry { return on(d, TakenOut, times*float64(worked)) }
	for name, c := range map[string]struct {
		times   float64
		days    int
		entries []Entry
		want    Use
	}{
		"a little less than worked out": {0.8, 10, nil, Use{Scale: 0.8, Words: "went by the weighings"}},
		"too few days":                  {0.8, 4, nil, Use{Scale: 1, Words: "five days"}},
		"a leak is no use":              {6, 10, nil, Use{Scale: 1, Wrong: true, Words: "look for a leak"}},
		"what a person took out":        {1.3, 10, []Entry{took(38, 2.5)}, Use{Scale: 0.8, Words: "went by the weighings"}},
		"what was noted beforehand":     {0.8, 10, []Entry{took(38.5, 5)}, Use{Scale: 0.8, Words: "went by the weighings"}},
	} {
		pairs := pairsOf(c.times*float64(worked), c.days)
		got, err := s.LearnFrom([]int{0}, pairs, c.entries, pairs[len(pairs)-1].To, time.UTC)
		require.NoError(t, err)
		assert.InDelta(t, c.want.Scale, got.Scale, 1e-6, name)
		assert.Equal(t, c.want.Wrong, got.Wrong, name)
		assert.Contains(t, got.Words, c.want.Words, name)
	}
	old := pairsOf(float64(worked), 10)
	got, err := s.LearnFrom([]int{0}, old, nil, old[9].To.Add(latestWeeks+day), time.UTC)
	require.NoError(t, err)
	assert.Contains(t, got.Words, "five days", "plants have grown since")
}

func TestPairsAreThoseOfWhichTheRecordSaysSo(t *testing.T) {
	five := 5.0
	at := func(h int) time.Time { return time.Unix(int64(h)*3600, 0) }
	pairs := Pairs([]Weighing{{At: at(0), Gone: &five}, {At: at(3), Gone: &five}, {At: at(6)}, {At: at(9), Gone: &five}, {At: at(8), Gone: &five}})
	assert.Equal(t, []Gone{{at(0), at(3), 5}, {at(6), at(9), 5}}, pairs)
}
