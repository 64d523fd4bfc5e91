package grow

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// grown is a site of full-grown plants on a date.
func grown(t *testing.T, on string) *Site {
	planted := date(t, on).AddDays(-60)
	return under(t, schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "12:00")}}, schedule.Batch{Name: "b", Transplanted: planted})
}

const week = 7 * 24 * time.Hour

// The water of a pot is followed here through the hours, by another way than
// PotsLast takes, until it is at its limit.
func TestPotsLastUntilTheirWaterIsAtItsLimit(t *testing.T) {
	for _, watered := range []string{"2026-06-20T08:10:00Z", "2026-06-20T17:30:00Z", "2026-06-20T23:59:00Z", "2026-12-20T12:00:00Z"} {
		from, err := time.Parse(time.RFC3339, watered)
		require.NoError(t, err)
		s := grown(t, watered[:10])
		b := &s.Batches[0]
		lasts, err := s.PotsLast(0, from, 6*time.Minute, week, 1, time.UTC)
		require.NoError(t, err)

		pot := b.Demand.Pot
		water := pot.Flooded(pot.Threshold(), 8*time.Minute) // a hold of 6 min and a fall of 2 min
		start := schedule.CivilIn(from, time.UTC).Date()
		at, step := from, 5*time.Minute
		for ; water > pot.Threshold(); at = at.Add(step) {
			d := schedule.CivilIn(at, time.UTC).Date()
			w, err := s.Weather(d, Hottest)
			require.NoError(t, err)
			begins := at.Sub(d.At(0).In(time.UTC))
			water -= b.Demand.Wants(int(d-start)+60, w) * demand.Litres(w.Shine.Between(begins, begins+step))
		}
		assert.InDelta(t, at.Sub(from).Minutes(), lasts.Minutes(), 6, watered)
	}
}

func TestPotsLastLongerOverANightAndNoLongerThanAsked(t *testing.T) {
	s := grown(t, "2026-06-20")
	noon := time.Date(2026, 6, 20, 9, 0, 0, 0, time.UTC)
	day, err := s.PotsLast(0, noon, 6*time.Minute, week, 1, time.UTC)
	require.NoError(t, err)
	evening, err := s.PotsLast(0, noon.Add(10*time.Hour), 6*time.Minute, week, 1, time.UTC)
	require.NoError(t, err)
	assert.Greater(t, evening, day+6*time.Hour)
	short, err := s.PotsLast(0, noon, 20*time.Second, week, 1, time.UTC)
	require.NoError(t, err)
	assert.Less(t, short, day, "a short hold fills less")
	asked, err := s.PotsLast(0, noon, 6*time.Minute, 2*time.Hour, 1, time.UTC)
	require.NoError(t, err)
	assert.Equal(t, 2*time.Hour, asked)
	thirsty, err := s.PotsLast(0, noon, 6*time.Minute, week, 2, time.UTC)
	require.NoError(t, err)
	assert.Less(t, thirsty, day, "what a batch was learnt to use counts")
}

// Whatever the date and the hour, the pots last no shorter than where neither is
// known.
func TestWhereTheDateIsNotKnownPotsLastAsInTheHottestMonth(t *testing.T) {
	s := grown(t, "2026-06-20")
	least, err := s.PotsLastWhenever(0, date(t, "2026-06-20"), 6*time.Minute, week, 1)
	require.NoError(t, err)
	assert.Less(t, least, 12*time.Hour)
	shortest := week
	for m := time.January; m <= time.December; m++ {
		on := schedule.DateOf(2026, m, 15)
		s := grown(t, on.String())
		for h := range 24 {
			lasts, err := s.PotsLast(0, on.At(0).In(time.UTC).Add(time.Duration(h)*time.Hour), 6*time.Minute, week, 1, time.UTC)
			require.NoError(t, err)
			assert.GreaterOrEqual(t, lasts, least-time.Minute, "%s %d:00", on, h)
			shortest = min(shortest, lasts)
		}
	}
	assert.InDelta(t, least.Hours(), shortest.Hours(), 0.6, "and somewhere just as short")
}
