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
func grown(t *testing.T, on string) *Site { return aged(t, on, 60) }

// aged is a site of plants of so many days on a date.
func aged(t *testing.T, on string, days int) *Site {
	planted := date(t, on).AddDays(-days)
	return under(t, schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "12:00")}}, schedule.Batch{Name: "b", Transplanted: planted})
}

const week = 7 * 24 * time.Hour

// The water of a pot is followed here through the hours, by another way than
// PotsLast takes, until it is at its limit.
func TestPotsLastUntilTheirWaterIsAtItsLimit(t *testing.T) {
	for watered, age := range map[string]int{
		"2026-06-20T08:10:00Z": 60, "2026-06-20T17:30:00Z": 60, "2026-06-20T23:59:00Z": 60, "2026-12-20T12:00:00Z": 60,
		"2026-11-20T12:00:00Z": 12, // and grow while they last
	} {
		from, err := time.Parse(time.RFC3339, watered)
		require.NoError(t, err)
		s := aged(t, watered[:10], age)
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
			water -= b.Demand.Wants(int(d-start)+age, w) * demand.Litres(w.Shine.Between(begins, begins+step))
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

// Any month may be the hottest, the last of them too.
func TestTheHottestMonthIsLookedForInTheWholeYear(t *testing.T) {
	lasts := func(hot time.Month) time.Duration {
		s := grown(t, "2026-06-20")
		s.Place.Latitude = 0 // where the sun leaves no month out
		mild := s.Line
		s.Line = func(m time.Month) demand.Line {
			l := mild(m)
			if m == hot {
				l.Highs.Most, l.Lows.Most = 48, 30
			}
			return l
		}
		least, err := s.PotsLastWhenever(0, date(t, "2026-06-20"), 6*time.Minute, week, 1)
		require.NoError(t, err)
		return least
	}
	for m := time.January; m <= time.December; m++ {
		assert.Less(t, lasts(m), lasts(0), m)
	}
}

// A batch is not blamed for what its bench does after it has left.
func TestAPlanIsNotTooDryForABatchThatHasLeft(t *testing.T) {
	left := schedule.Batch{Name: "left", Transplanted: date(t, "2026-04-01"), Closed: date(t, "2026-06-10")}
	stays := schedule.Batch{Name: "stays", Transplanted: date(t, "2026-04-01")}
	s := under(t, schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "12:00")}}, left, stays)
	from, to := date(t, "2026-06-11"), date(t, "2026-06-30")
	_, found, err := s.FirstDry(0, from, to, time.UTC)
	require.NoError(t, err)
	assert.False(t, found)
	dry, found, err := s.FirstDry(1, from, to, time.UTC)
	require.NoError(t, err)
	require.True(t, found, "one flood a day in June")
	assert.Equal(t, from, dry.After.Slot.Local.Date())
}

// The pots of a plan that floods every noon are near full after it, so that they reach
// their limit once their plants have used what pots give without stress: the litres are
// counted here by the hour.
func TestPotsReachTheirLimitOnOrdinaryDays(t *testing.T) {
	s := aged(t, "2026-06-20", 20)
	b := &s.Batches[0]
	noon := time.Date(2026, 6, 20, 12, 10, 0, 0, time.UTC)
	r, err := s.PotsReach(0, noon, 3*week, Use{}, time.UTC)
	require.NoError(t, err)

	left, at := b.Demand.Pot.Gives(), noon
	for ; left > 0; at = at.Add(time.Minute) {
		d := schedule.CivilIn(at, time.UTC).Date()
		w, err := s.Weather(d, Normal)
		require.NoError(t, err)
		begins := at.Sub(d.At(0).In(time.UTC))
		left -= b.Demand.Wants(b.age(d), w) * demand.Litres(w.Shine.Between(begins, begins+time.Minute))
	}
	assert.InEpsilon(t, at.Sub(noon).Hours(), r.Lasts.Hours(), 0.15, "the flood fills them nearly")
	assert.Less(t, r.Lasts, at.Sub(noon)+time.Minute, "and no further than they hold")

	hot, err := s.PotsLast(0, noon, 6*time.Minute, 3*week, 1, time.UTC)
	require.NoError(t, err)
	assert.Less(t, hot, r.Lasts)
	assert.Less(t, r.Low, r.Lasts)
	assert.Less(t, r.Lasts, r.High)
	better, err := s.PotsReach(0, noon, 3*week, Use{Since: b.Transplanted.AddDays(1)}, time.UTC)
	require.NoError(t, err)
	assert.Equal(t, r.Lasts, better.Lasts)
	assert.Greater(t, better.Low, r.Low, "what was learned narrows it")
	assert.Less(t, better.High, r.High)
	mix, err := s.PotsReach(0, noon, 3*week, Use{Since: b.Transplanted}, time.UTC)
	require.NoError(t, err)
	assert.Less(t, mix.Low, better.Low, "but of other pots than those learned from less")

	s.Shallow = []time.Duration{20 * time.Minute}
	wet, err := s.PotsReach(0, noon, 3*week, Use{}, time.UTC)
	require.NoError(t, err)
	assert.Greater(t, wet.Lasts, r.Lasts, "pots drink while the table fills, too")
}
