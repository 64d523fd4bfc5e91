package schedule

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// rare is a plan whose first stage floods every second day and whose second every
// third.
func rare(t testing.TB) Plan {
	return Plan{Name: "rare", Stages: []Stage{
		{FromDay: 0, At: at(t, "09:00"), Every: 2, Hold: time.Minute, CanWait: 60 * time.Hour},
		{FromDay: 7, At: at(t, "08:00", "16:00"), Every: 3, Hold: time.Minute, CanWait: 90 * time.Hour},
	}}
}

// flooded are the days of the first n from from on that have floods.
func flooded(c *Calendar, from Date, n int) (days []int) {
	for i := range n {
		if len(c.On(0, from.AddDays(i).At(0), from.AddDays(i+1).At(0))) > 0 {
			days = append(days, i)
		}
	}
	return days
}

func TestAStageCountsItsDaysFromItsFirst(t *testing.T) {
	first := DateOf(2026, 3, 2)
	for name, c := range map[string]struct {
		asked bool
		told  []Passage
		want  []int
	}{
		"by age":                     {false, nil, []int{0, 2, 4, 6, 7, 10, 13, 16, 19}},
		"asked and nothing said":     {true, nil, []int{0, 2, 4, 6, 8, 10, 12, 14, 16, 18}},
		"told ahead":                 {false, []Passage{{On: first + 3, Stage: 1}}, []int{0, 2, 3, 6, 9, 12, 15, 18}},
		"asked, told later":          {true, []Passage{{On: first + 9, Stage: 1}}, []int{0, 2, 4, 6, 8, 9, 12, 15, 18}},
		"told of the stage it is in": {false, []Passage{{On: first + 9, Stage: 1}}, []int{0, 2, 4, 6, 7, 10, 13, 16, 19}},
		"told ahead and back":        {true, []Passage{{On: first + 3, Stage: 1}, {On: first + 6, Stage: 0}}, []int{0, 2, 3, 6, 8, 10, 12, 14, 16, 18}},
	} {
		t.Run(name, func(t *testing.T) {
			c2 := mustCalendar(t, Setup{Zone: time.UTC, Plans: []Plan{rare(t)}, Benches: 1,
				Batches: []Batch{{Name: "fern", Transplanted: first, Asked: c.asked, Passages: c.told}}})
			assert.Equal(t, c.want, flooded(c2, first, 20))
		})
	}
}

// A night of 23 or of 25 hours moves neither the days nor the time of day.
func TestEverySecondDayIsOfTheCalendar(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	plan := Plan{Name: "rare", Stages: []Stage{{At: at(t, "01:30", "09:00"), Every: 2, Hold: time.Minute, CanWait: 60 * time.Hour}}}
	for _, first := range []Date{DateOf(2026, 3, 27), DateOf(2026, 3, 28), DateOf(2026, 10, 23), DateOf(2026, 10, 24), DateOf(2027, 12, 30), DateOf(2028, 2, 27)} {
		c := mustCalendar(t, Setup{Zone: zone, Plans: []Plan{plan}, Benches: 1, Batches: []Batch{{Transplanted: first}}})
		assert.Equal(t, []int{0, 2, 4, 6, 8}, flooded(c, first, 10), first)
		for _, p := range c.On(0, first.At(0), first.AddDays(10).At(0)) {
			assert.Contains(t, []string{"01:30", "09:00"}, p.Slot.Local.TimeOfDay().String())
		}
		assert.Empty(t, c.Conflicts(first, first.AddDays(20)))
	}
}

func TestADayLeftOutHasARuleAndNoFlood(t *testing.T) {
	first := DateOf(2026, 3, 2)
	c := mustCalendar(t, Setup{Zone: time.UTC, Plans: []Plan{rare(t)}, Benches: 1, Batches: []Batch{{Transplanted: first}}})
	for i, want := range []int{1, 0, 1, 0} {
		p, ok := c.Governs(0, first.AddDays(i))
		require.True(t, ok)
		assert.Equal(t, want, p.PerDay, "day %d", i)
		assert.Equal(t, 48*time.Hour, p.Apart, "day %d", i)
	}
	p, _ := c.Governs(0, first.AddDays(8))
	assert.Equal(t, 36*time.Hour, p.Apart, "two floods on every third day")

	next, ok := c.After(0, first.At(9*3600))
	require.True(t, ok)
	assert.Equal(t, first.AddDays(2).At(9*3600), next.Slot.Local)
}

func TestBatchesThatLeaveOutOtherDaysShareABench(t *testing.T) {
	first := DateOf(2026, 3, 2)
	plans := []Plan{
		always("rare", Stage{At: at(t, "09:00"), Every: 2, CanWait: 60 * time.Hour}),
		always("daily", Stage{At: at(t, "12:00")}),
	}
	share := func(plan int, from Date) Batch { return Batch{Plan: plan, Transplanted: from} }
	odd := mustCalendar(t, Setup{Zone: time.UTC, Plans: plans, Benches: 1, Batches: []Batch{share(0, first), share(0, first+1)}})
	assert.Equal(t, []int{0, 1, 2, 3, 4}, flooded(odd, first, 5), "each on its own days")
	mixed := mustCalendar(t, Setup{Zone: time.UTC, Plans: plans, Benches: 1, Batches: []Batch{share(0, first), share(1, first)}})
	assert.Equal(t, []string{"2026-03-02T12:00", "2026-03-03T12:00", "2026-03-04T12:00"}, locals(mixed.On(0, first.At(0), first.AddDays(3).At(0))))
	p, _ := mixed.Governs(0, first.AddDays(1))
	assert.Equal(t, 24*time.Hour, p.Apart)
}

func TestAWaitOverDaysLeftOutIsAConflict(t *testing.T) {
	first := DateOf(2026, 3, 2)
	plan := always("rare", Stage{At: at(t, "09:00"), Every: 3, CanWait: 60 * time.Hour})
	c := mustCalendar(t, Setup{Zone: time.UTC, Plans: []Plan{plan}, Benches: 1, Batches: []Batch{{Name: "fern", Transplanted: first}}})
	all := c.Conflicts(first, first.AddDays(9))
	require.NotEmpty(t, all)
	assert.Equal(t, "fern waits up to 72 h for a flood and stands 60 h", all[0].Detail)
}

func TestDaysLeftOutAreDescribed(t *testing.T) {
	for want, s := range map[string]Stage{
		"every second day at 09:00":                                    {At: at(t, "09:00"), Every: 2},
		"every seventh day at 09:00 and 15:00":                         {At: at(t, "09:00", "15:00"), Every: 7},
		"one day in 14 at 09:00":                                       {At: at(t, "09:00"), Every: 14},
		"3 floods spread over the light hours of every third day":      {Spread: 3, Every: 3},
		"1 flood in the middle of the light hours of every second day": {Spread: 1, Every: 2},
		"daily at 09:00":                                               {At: at(t, "09:00"), Every: 1},
	} {
		assert.Equal(t, want, Describe(s))
	}
}

func TestEveryGoesWithoutCron(t *testing.T) {
	for want, s := range map[string]Stage{
		"a cron expression says on which days it floods": {Cron: mustCron(t, "0 9 * * *"), Every: 2},
		"every 31 days: write 1 to 30":                   {At: at(t, "09:00"), Every: 31},
		"every -1 days: write 1 to 30":                   {At: at(t, "09:00"), Every: -1},
	} {
		_, err := NewCalendar(Setup{Zone: time.UTC, Plans: []Plan{always("rare", s)}, Benches: 1})
		assert.ErrorContains(t, err, want)
	}
}
