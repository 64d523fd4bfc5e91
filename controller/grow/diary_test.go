package grow

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/quantity"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

var monday = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func on(dayNumber float64, kind EntryKind, value float64) Entry {
	return Entry{monday.Add(time.Duration(dayNumber * float64(day))), kind, value}
}

func TestDailyUseIsWhatWasAddedSinceTheFirstTopUp(t *testing.T) {
	// 12 + 9 + 15 L over 4 days; the first only makes the mark.
	use, ok := DailyUse([]Entry{on(4, TopUp, 15), on(0, TopUp, 80), on(1, TopUp, 12), on(2.5, TopUp, 9), on(3, EC, 1.2)})
	require.True(t, ok)
	assert.InDelta(t, 9, float64(use), 1e-12)
	_, ok = DailyUse([]Entry{on(0, TopUp, 80), on(0.5, TopUp, 3)})
	assert.False(t, ok)
}

func TestMoreWaterThanPlantsCanUseIsSuspectedToLeak(t *testing.T) {
	assert.Empty(t, new(Site).leakWords(9, 8, byTopUps))
	assert.Contains(t, new(Site).leakWords(13, 8, byTopUps), "look for a leak")
	assert.Empty(t, new(Site).leakWords(0.5, 0.1, byTopUps), "a cup of water a day is no leak")
}

func TestSolutionIsDueByAgeByVolumeOrByEC(t *testing.T) {
	entries := []Entry{on(-20, SolutionChange, 0), on(0, SolutionChange, 180), on(-1, TopUp, 500), on(-3, EC, 2.4), on(1, EC, 1.2), on(3, EC, 1.3), on(5, EC, 1.4), on(4, TopUp, 90)}
	s := SolutionOf(entries, 180, monday.Add(6*day), quantity.Metric)
	assert.InDelta(t, 6, s.Days, 1e-9)
	assert.InDelta(t, 0.5, s.Turnover, 1e-9)
	assert.InDelta(t, 0.05, s.Drift, 1e-12, "mS/cm a day")
	assert.Empty(t, s.Reasons)

	for name, c := range map[string]struct {
		more  []Entry
		after time.Duration
		want  string
	}{
		"age":                 {nil, 14 * day, "14 days old"},
		"volume":              {[]Entry{on(5, TopUp, 90)}, 6 * day, "180 L were added"},
		"EC since it was new": {[]Entry{on(0.1, EC, 1)}, 6 * day, "EC is 1.4 mS/cm, and 1 was read when it was new"},
	} {
		s := SolutionOf(append(c.more, entries...), 180, monday.Add(c.after), quantity.Metric)
		require.Len(t, s.Reasons, 1, name)
		assert.Contains(t, s.Reasons[0], c.want)
	}
	assert.Contains(t, SolutionOf(nil, 180, monday, quantity.Metric).Reasons[0], "no change of the solution is written down")
}

func TestPotsThatAreResownAreAYoungerBatch(t *testing.T) {
	c := countOf([]Entry{
		on(0, Sown, 100), on(6, Germinated, 80), on(8, Resown, 20), on(9, Thinned, 30),
		on(10, Lost, 5), on(30, MovedOut, 90),
	})
	assert.Equal(t, 20, c.Resown)
	assert.Equal(t, 5, c.Left())
	assert.Equal(t, []Cohort{{monday.Add(8 * day), 5}}, c.Cohorts)
	assert.Equal(t, 30, c.Thinned, "thinned seedlings leave their pots")

	planted := countOf([]Entry{on(0, Sown, 100), on(14, Transplanted, 96), on(15, Lost, 1)})
	assert.Equal(t, []Cohort{{monday.Add(14 * day), 95}}, planted.Cohorts)
}

func TestTopUpWaitsForBareTablesAndForTheNextFlood(t *testing.T) {
	ok, words := TopUpNow([]string{"north"}, time.Hour)
	assert.False(t, ok)
	assert.Contains(t, words, "north holds water")
	ok, words = TopUpNow(nil, 5*time.Minute)
	assert.False(t, ok)
	assert.Contains(t, words, "due in 5 min")
	ok, _ = TopUpNow(nil, time.Hour)
	assert.True(t, ok)
	ok, _ = TopUpNow(nil, -1)
	assert.True(t, ok)
}

func TestAReservoirHasWhatItsLastTopUpLeftOfIt(t *testing.T) {
	left, ok := Left([]Entry{on(-5, SolutionChange, 180), on(2, TopUp, 30), on(3, EC, 1)}, 200, 8, monday.Add(5*day))
	assert.True(t, ok)
	assert.InDelta(t, 200-3*8, float64(left), 1e-9)
	left, _ = Left([]Entry{on(0, TopUp, 30)}, 200, 80, monday.Add(5*day))
	assert.Zero(t, left)
	_, ok = Left([]Entry{on(0, EC, 1)}, 200, 8, monday)
	assert.False(t, ok)
}

func TestWhatCannotBeIsRefusedWithItsRange(t *testing.T) {
	for _, c := range []struct {
		e    Entry
		want string
	}{
		{on(0, TopUp, -3), "between 0 and 100000 L"},
		{on(0, EC, 80), "between 0 and 50 mS/cm"},
		{on(0, PH, 15), "between 0 and 14"},
		{on(0, Temperature, 85), "after a reset"},
		{on(0, Temperature, 127.94), "faulty line"},
		{on(0, Temperature, 55), "between -2 °C and 50 °C"},
		{on(0, Moisture, 6), "between 1 and 5"},
		{on(0, Lost, 2.5), "whole number"},
	} {
		assert.ErrorContains(t, Impossible(c.e, quantity.Metric), c.want)
	}
	for _, e := range []Entry{on(0, TopUp, 20), on(0, EC, 1.2), on(0, PH, 6), on(0, Temperature, 21), on(0, Moisture, 2), on(0, Lost, 3), on(0, Cleaning, 0)} {
		assert.NoError(t, Impossible(e, quantity.Metric))
	}
}

func TestDoubtsAskWhatIsHardToBelieveAndNothingElse(t *testing.T) {
	now := monday.Add(10 * day)
	for name, c := range map[string]struct {
		e      Entry
		before []Entry
		want   string // empty: no question
	}{
		"an ordinary top-up":        {on(2, TopUp, 12), []Entry{on(1, TopUp, 11)}, ""},
		"more than it holds":        {on(2, TopUp, 250), nil, "more than the 180 L"},
		"written twice":             {on(2, TopUp, 12), []Entry{on(2-1.0/48, TopUp, 12)}, "a second time"},
		"tomorrow":                  {on(12, TopUp, 12), nil, "a time to come"},
		"EC up with water":          {on(3, EC, 1.4), []Entry{on(1, EC, 1), on(2, TopUp, 30)}, "EC rose 40 % and you added 30 L"},
		"EC up alone":               {on(3, EC, 1.5), []Entry{on(1, EC, 1)}, "takes 60 L of water gone"},
		"EC down with nothing":      {on(3, EC, 0.7), []Entry{on(1, EC, 1)}, "no water was added"},
		"EC down by its water":      {on(3, EC, 0.75), []Entry{on(1, EC, 1), on(2, TopUp, 45)}, ""},
		"EC down by more":           {on(3, EC, 0.5), []Entry{on(1, EC, 1), on(2, TopUp, 20)}, "explain less"},
		"EC new after a change":     {on(3, EC, 2), []Entry{on(1, EC, 1), on(2, SolutionChange, 180)}, ""},
		"EC steady":                 {on(3, EC, 1.1), []Entry{on(1, EC, 1)}, ""},
		"another scale":             {on(3, EC, 12), nil, "not another scale"},
		"pH far off":                {on(3, PH, 3.9), nil, "meter calibrated"},
		"pH as it was read":         {on(3, PH, 12.4), nil, "pH 12.4 is far"},
		"pH fine":                   {on(3, PH, 6), []Entry{on(1, PH, 6), on(2, PH, 6)}, ""},
		"a meter that sticks":       {on(5, PH, 6), []Entry{on(1, PH, 6), on(2, PH, 6), on(3, PH, 6), on(4, PH, 6)}, "Does the meter still read"},
		"warm":                      {on(3, Temperature, 31), nil, "Hot"},
		"more lost than there were": {on(3, Lost, 40), []Entry{on(0, Sown, 30)}, "Is it the right batch"},
	} {
		t.Run(name, func(t *testing.T) {
			got := Doubts(c.e, c.before, demand.Litres(180), now, quantity.Metric)
			if c.want == "" {
				assert.Empty(t, got)
				return
			}
			require.Len(t, got, 1)
			assert.Contains(t, got[0], c.want)
		})
	}
}

func TestTopUpsOfDaysTeachWhatPlantsReallyUseAndALeakIsNoUse(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02")})
	worked, err := s.worked([]int{0}, date(t, "2026-04-06"), date(t, "2026-04-11"), Normal)
	require.NoError(t, err)
	require.Greater(t, worked, demand.Litres(1))
	diary := func(times float64, days int) (entries []Entry) {
		for d := range days + 1 {
			entries = append(entries, on(float64(30+d), TopUp, times*float64(worked)))
		}
		return entries
	}
	for name, c := range map[string]struct {
		times float64
		days  int
		want  Use
	}{
		"a little less than worked out": {0.8, 10, Use{Scale: 0.8, Words: "worked out for normal days"}},
		"too few days":                  {0.8, 4, Use{Scale: 1, Words: "five days"}},
		"far more than on hot days":     {6, 10, Use{Scale: 1, Wrong: true, Words: "look for a leak"}},
		"hardly anything":               {0.1, 10, Use{Scale: 1, Wrong: true, Words: "a top-up not written down"}},
	} {
		got, err := s.Learn([]int{0}, diary(c.times, c.days), time.UTC)
		require.NoError(t, err)
		assert.InDelta(t, c.want.Scale, got.Scale, 1e-9, name)
		assert.Equal(t, c.want.Wrong, got.Wrong, name)
		assert.Contains(t, got.Words, c.want.Words, name)
	}
}
