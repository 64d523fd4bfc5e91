package schedule

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func at(t testing.TB, times ...string) []TimeOfDay {
	t.Helper()
	var all []TimeOfDay
	for _, s := range times {
		tod, err := ParseTimeOfDay(s)
		require.NoError(t, err)
		all = append(all, tod)
	}
	return all
}

func mustCalendar(t testing.TB, s Setup) *Calendar {
	t.Helper()
	c, err := NewCalendar(s)
	require.NoError(t, err)
	return c
}

// basil is a plan whose floods rise from one to two to four a day.
func basil(t testing.TB) Plan {
	return Plan{Name: "basil", Stages: []Stage{
		{FromDay: 0, At: at(t, "09:00"), Hold: 4 * time.Minute, Strength: 0.25, CanWait: 48 * time.Hour},
		{FromDay: 10, At: at(t, "08:30", "15:00"), Hold: 6 * time.Minute, Strength: 0.5, CanWait: 30 * time.Hour},
		{FromDay: 24, Cron: mustCron(t, "0 8-17/3 * * *"), Hold: 8 * time.Minute, Strength: 1, CanWait: 20 * time.Hour},
	}}
}

func always(name string, s Stage) Plan {
	if s.Hold == 0 {
		s.Hold = 5 * time.Minute
	}
	if s.CanWait == 0 {
		s.CanWait = 30 * time.Hour
	}
	return Plan{Name: name, Stages: []Stage{s}}
}

func locals(slots []Planned) []string {
	var all []string
	for _, p := range slots {
		all = append(all, p.Slot.Local.String())
	}
	return all
}

func TestFloodsRiseWithTheAgeOfThePlants(t *testing.T) {
	transplanted := date(t, "2026-03-02")
	c := mustCalendar(t, Setup{Zone: zone(t, "Europe/Dublin"), Plans: []Plan{basil(t)}, Benches: 1,
		Batches: []Batch{{Name: "spring", Transplanted: transplanted, Closed: transplanted.AddDays(30)}}})
	for _, row := range []struct {
		age  int
		want []string
	}{
		{-1, nil},
		{0, []string{"09:00"}},
		{9, []string{"09:00"}},
		{10, []string{"08:30", "15:00"}},
		{23, []string{"08:30", "15:00"}},
		{24, []string{"08:00", "11:00", "14:00", "17:00"}},
		{30, []string{"08:00", "11:00", "14:00", "17:00"}},
		{31, nil},
	} {
		d := transplanted.AddDays(row.age)
		var got []string
		for _, p := range c.Between(d.At(0), d.AddDays(1).At(0)) {
			got = append(got, p.Slot.Local.TimeOfDay().String())
			assert.Equal(t, len(row.want), p.PerDay)
		}
		assert.Equal(t, row.want, got, "age %d", row.age)
		_, open := c.Governs(0, d)
		assert.Equal(t, row.want != nil, open, "age %d", row.age)
	}
}

func TestBatchesThatShareABenchGetTheMostTimesAndTheMildestFloods(t *testing.T) {
	once := Stage{At: at(t, "10:00"), Hold: 3 * time.Minute, Strength: 0.5, CanWait: 40 * time.Hour}
	twice := Stage{At: at(t, "09:00", "16:00"), Hold: 8 * time.Minute, Strength: 0.8, CanWait: 30 * time.Hour}
	twiceUrgent := Stage{At: at(t, "08:00", "15:00"), Hold: 6 * time.Minute, Strength: 0.9, CanWait: 20 * time.Hour}
	twiceAsUrgent := Stage{At: at(t, "07:00", "14:00"), Hold: 6 * time.Minute, Strength: 0.2, CanWait: 20 * time.Hour}
	later := Stage{FromDay: 5, At: at(t, "01:00", "02:00", "03:00"), Hold: time.Minute, Strength: 0.1, CanWait: 2 * time.Hour}
	fridays := Stage{Cron: mustCron(t, "0 6,7,8 * * 5"), Hold: 9 * time.Minute, Strength: 1, CanWait: 100 * time.Hour}

	for _, row := range []struct {
		name     string
		stages   []Stage
		batch    int
		times    []string
		hold     time.Duration
		strength float64
		canWait  time.Duration
	}{
		{"most floods give the times, the others the hold and strength", []Stage{once, twice}, 1, []string{"09:00", "16:00"}, 3 * time.Minute, 0.5, 30 * time.Hour},
		{"whichever comes first in the file", []Stage{twice, once}, 0, []string{"09:00", "16:00"}, 3 * time.Minute, 0.5, 30 * time.Hour},
		{"of equals the one that can wait less", []Stage{twice, twiceUrgent}, 1, []string{"08:00", "15:00"}, 6 * time.Minute, 0.8, 20 * time.Hour},
		{"of those that can wait alike the first in the file", []Stage{twiceUrgent, twiceAsUrgent}, 0, []string{"08:00", "15:00"}, 6 * time.Minute, 0.2, 20 * time.Hour},
		{"a batch too young for its first stage has no say", []Stage{once, later}, 0, []string{"10:00"}, 3 * time.Minute, 0.5, 40 * time.Hour},
		{"a batch without a flood today still has its hold", []Stage{fridays, once}, 1, []string{"10:00"}, 3 * time.Minute, 0.5, 40 * time.Hour},
		{"a day on which nobody floods is governed by the shortest wait", []Stage{fridays}, 0, nil, 9 * time.Minute, 1, 100 * time.Hour},
	} {
		t.Run(row.name, func(t *testing.T) {
			monday := date(t, "2026-03-02")
			s := Setup{Zone: time.UTC, Benches: 1}
			for i, stage := range row.stages {
				s.Plans = append(s.Plans, Plan{Name: fmt.Sprint(i), Stages: []Stage{stage}})
				s.Batches = append(s.Batches, Batch{Name: fmt.Sprint(i), Plan: i, Transplanted: monday})
			}
			c := mustCalendar(t, s)
			rule, ok := c.Governs(0, monday)
			require.True(t, ok)
			assert.Equal(t, Planned{Slot: Slot{0, monday.At(0)}, Due: monday.At(0).In(time.UTC), Batch: row.batch,
				PerDay: len(row.times), Hold: row.hold, Strength: row.strength, CanWait: row.canWait}, rule)
			var got []string
			for _, p := range c.Between(monday.At(0), monday.AddDays(1).At(0)) {
				got = append(got, p.Slot.Local.TimeOfDay().String())
			}
			assert.Equal(t, row.times, got)
		})
	}
}

func TestABatchOnAnotherBenchOrDateHasNoSay(t *testing.T) {
	monday := date(t, "2026-03-02")
	c := mustCalendar(t, Setup{Zone: time.UTC, Benches: 3,
		Plans: []Plan{always("one", Stage{At: at(t, "09:00")}), always("two", Stage{At: at(t, "08:00", "16:00")})},
		Batches: []Batch{
			{Name: "a", Plan: 0, Bench: 0, Transplanted: monday},
			{Name: "b", Plan: 1, Bench: 1, Transplanted: monday},
			{Name: "c", Plan: 1, Bench: 0, Transplanted: monday.AddDays(1), Closed: monday.AddDays(2)},
		}})
	assert.Equal(t, []string{"2026-03-02T08:00", "2026-03-02T09:00", "2026-03-02T16:00"},
		locals(c.Between(monday.At(0), monday.AddDays(1).At(0))))
	next, ok := c.After(0, monday.At(10*3600))
	require.True(t, ok)
	assert.Equal(t, "2026-03-03T08:00", next.Slot.Local.String(), "c stands on the bench from Tuesday")
	next, ok = c.After(0, monday.AddDays(2).At(17*3600))
	require.True(t, ok)
	assert.Equal(t, "2026-03-05T09:00", next.Slot.Local.String(), "and to Wednesday")
	_, ok = c.After(2, monday.At(0))
	assert.False(t, ok, "a bench without plants has no slots")
}

func TestAfterLooksAYearAhead(t *testing.T) {
	start := date(t, "2026-03-02")
	c := mustCalendar(t, Setup{Zone: time.UTC, Benches: 1, Plans: []Plan{always("yearly", Stage{Cron: mustCron(t, "0 12 1 3 *")})},
		Batches: []Batch{{Name: "a", Transplanted: start, Closed: date(t, "2028-01-01")}}})
	next, ok := c.After(0, start.At(0))
	require.True(t, ok)
	assert.Equal(t, "2027-03-01T12:00", next.Slot.Local.String())
	_, ok = c.After(0, next.Slot.Local)
	assert.False(t, ok, "the batch is gone by then")
	next, ok = c.After(0, next.Slot.Local-1)
	require.True(t, ok, "an answer of none is not kept for an earlier question")
	assert.Equal(t, "2027-03-01T12:00", next.Slot.Local.String())
	_, ok = c.After(0, start.AddDays(-1000).At(0))
	assert.False(t, ok, "the search is bounded")
}

// Sixty days around each change, floods every half hour on two benches: the
// slots are exactly the half hours of the calendar, each once, in order.
func TestChangesOfTheClockNeitherDropNorDoubleASlot(t *testing.T) {
	for _, row := range []struct {
		zone, change string
		moved        int // slots of a bench that the gap moves to its end
	}{
		{"Europe/Dublin", "2026-03-29", 2},
		{"Europe/Dublin", "2026-10-25", 0},
		{"America/New_York", "2026-03-08", 2},
		{"America/New_York", "2026-11-01", 0},
		{"Australia/Lord_Howe", "2026-10-04", 1},
		{"Australia/Lord_Howe", "2026-04-05", 0},
		{"America/Sao_Paulo", "2017-10-15", 2},
		{"America/Sao_Paulo", "2018-02-18", 0},
		{"America/Sao_Paulo", "2018-11-04", 2},
	} {
		t.Run(row.zone+" "+row.change, func(t *testing.T) {
			z, from := zone(t, row.zone), date(t, row.change).AddDays(-30)
			to := from.AddDays(60)
			c := mustCalendar(t, Setup{Zone: z, Benches: 2, Plans: []Plan{always("often", Stage{Cron: mustCron(t, "*/30 * * * *")})},
				Batches: []Batch{{Name: "a", Bench: 0, Transplanted: from}, {Name: "b", Bench: 1, Transplanted: from}}})

			slots := c.Between(from.At(0), to.At(0))
			require.Len(t, slots, 2*60*48)
			seen := map[Slot]bool{}
			moved := 0
			for i, p := range slots {
				require.False(t, seen[p.Slot], "%v comes twice", p.Slot)
				seen[p.Slot] = true
				require.Zero(t, p.Slot.Local%1800)
				if i > 0 {
					require.False(t, p.Due.Before(slots[i-1].Due), "%v is out of order", p.Slot)
				}
				if CivilIn(p.Due, z) != p.Slot.Local {
					moved++
				}
			}
			assert.Equal(t, 2*row.moved, moved, "slots that run later than their time")

			for bench := range 2 {
				after := from.At(0) - 1
				for want := from.At(0); want < to.At(0); want += 1800 {
					p, ok := c.After(bench, after)
					require.True(t, ok)
					require.Equal(t, Slot{bench, want}, p.Slot)
					after = p.Slot.Local
				}
			}
		})
	}
}

func TestSlotsOfAGapRunAtItsEndAndKeepTheirTime(t *testing.T) {
	d := date(t, "2018-11-04")
	c := mustCalendar(t, Setup{Zone: zone(t, "America/Sao_Paulo"), Benches: 2,
		Plans:   []Plan{always("night", Stage{At: at(t, "00:00", "00:30", "01:00", "23:45")})},
		Batches: []Batch{{Name: "a", Bench: 1, Transplanted: d}, {Name: "b", Bench: 0, Transplanted: d}}})
	var got []string
	for _, p := range c.Between(d.At(0), d.AddDays(1).At(0)) {
		got = append(got, fmt.Sprintf("%d %v %s", p.Slot.Bench, p.Slot.Local, p.Due.Format(time.RFC3339)))
	}
	assert.Equal(t, []string{
		"0 2018-11-04T00:00 2018-11-04T01:00:00-02:00",
		"0 2018-11-04T00:30 2018-11-04T01:00:00-02:00",
		"0 2018-11-04T01:00 2018-11-04T01:00:00-02:00",
		"1 2018-11-04T00:00 2018-11-04T01:00:00-02:00",
		"1 2018-11-04T00:30 2018-11-04T01:00:00-02:00",
		"1 2018-11-04T01:00 2018-11-04T01:00:00-02:00",
		"0 2018-11-04T23:45 2018-11-04T23:45:00-02:00",
		"1 2018-11-04T23:45 2018-11-04T23:45:00-02:00",
	}, got)
}

func TestFloodsFollowTheSunThroughTheYear(t *testing.T) {
	z := zone(t, "Europe/Dublin")
	start := date(t, "2026-01-01")
	sun := Sun{53.2, -7.1, z}
	c := mustCalendar(t, Setup{Zone: z, Light: sun, Benches: 1, Plans: []Plan{always("spread", Stage{Spread: 4})},
		Batches: []Batch{{Name: "a", Transplanted: start}}})
	for d := start; d < start.AddDays(365); d++ {
		rise, set, _ := sun.Hours(d)
		slots := c.Between(d.At(0), d.AddDays(1).At(0))
		require.Len(t, slots, 4, d.String())
		for i, p := range slots {
			part := float64(p.Slot.Local-rise) / float64(set-rise)
			require.InDelta(t, (float64(i)+0.5)/4, part, 0.003, "%v", p.Slot.Local)
		}
	}
}

// After, Between and Governs tell one story, whatever was asked before.
func TestAnswersDoNotDependOnEarlierQuestions(t *testing.T) {
	start := date(t, "2026-03-02")
	setup := Setup{Zone: zone(t, "Australia/Lord_Howe"), Light: Lamps{On: 18 * 3600, Off: 6 * 3600}, Benches: 2,
		Plans: []Plan{basil(t), always("lit", Stage{Spread: 3}), always("weekly", Stage{Cron: mustCron(t, "0 7-19/4 * * 1,4")})},
		Batches: []Batch{
			{Name: "a", Plan: 0, Bench: 0, Transplanted: start},
			{Name: "b", Plan: 1, Bench: 0, Transplanted: start.AddDays(8), Closed: start.AddDays(20)},
			{Name: "c", Plan: 2, Bench: 1, Transplanted: start.AddDays(3), Closed: start.AddDays(50)},
		}}
	shared := mustCalendar(t, setup)
	all := mustCalendar(t, setup).Between(start.AddDays(-5).At(0), start.AddDays(500).At(0))
	rapid.Check(t, func(t *rapid.T) {
		bench := rapid.IntRange(0, 1).Draw(t, "bench")
		after := start.AddDays(rapid.IntRange(-5, 60).Draw(t, "day")).At(TimeOfDay(rapid.IntRange(0, secondsPerDay-1).Draw(t, "second")))
		want := slices.IndexFunc(all, func(p Planned) bool { return p.Slot.Bench == bench && p.Slot.Local > after })
		got, ok := shared.After(bench, after)
		require.Equal(t, want >= 0, ok)
		if !ok {
			return
		}
		require.Equal(t, all[want], got)
		rule, ok := shared.Governs(bench, got.Slot.Local.Date())
		require.True(t, ok)
		rule.Slot, rule.Due = got.Slot, got.Due
		require.Equal(t, got, rule)
	})
}

func TestCalendarNamesEveryFaultOfItsSetup(t *testing.T) {
	good := func() Setup {
		return Setup{Zone: time.UTC, Benches: 1, Plans: []Plan{basil(t)}, Batches: []Batch{{Name: "spring", Transplanted: date(t, "2026-03-02")}}}
	}
	_, err := NewCalendar(good())
	require.NoError(t, err)
	for want, spoil := range map[string]func(*Setup){
		"no time zone":                       func(s *Setup) { s.Zone = nil },
		`batch "spring": plan 1 is not`:      func(s *Setup) { s.Batches[0].Plan = 1 },
		`batch "spring": plan -1 is not`:     func(s *Setup) { s.Batches[0].Plan = -1 },
		`batch "spring": bench 1 is not`:     func(s *Setup) { s.Batches[0].Bench = 1 },
		`before it was transplanted`:         func(s *Setup) { s.Batches[0].Closed = date(t, "2026-03-01") },
		`plan "basil": it has no stages`:     func(s *Setup) { s.Plans[0].Stages = nil },
		`stage from day 10 overlaps`:         func(s *Setup) { s.Plans[0].Stages[2].FromDay = 10 },
		`plant age counts from 0`:            func(s *Setup) { s.Plans[0].Stages[0].FromDay = -1 },
		`from day 0: give it exactly one of`: func(s *Setup) { s.Plans[0].Stages[0].At = nil },
		`from day 24: give it exactly one`:   func(s *Setup) { s.Plans[0].Stages[2].Spread = 2 },
		`which nothing describes`:            func(s *Setup) { s.Plans[0].Stages[2].Cron, s.Plans[0].Stages[2].Spread = nil, 2 },
		`25 floods a day: write 1 to 24`:     func(s *Setup) { s.Plans[0].Stages[2].Cron, s.Plans[0].Stages[2].Spread = nil, 25 },
		`hold 0s`:                            func(s *Setup) { s.Plans[0].Stages[1].Hold = 0 },
		`can_wait -1ns`:                      func(s *Setup) { s.Plans[0].Stages[1].CanWait = -1 },
		`strength 1.5`:                       func(s *Setup) { s.Plans[0].Stages[1].Strength = 1.5 },
		`time of day 86400 s`:                func(s *Setup) { s.Plans[0].Stages[1].At = []TimeOfDay{86400} },
	} {
		s := good()
		spoil(&s)
		_, err := NewCalendar(s)
		assert.ErrorContains(t, err, want)
		assert.ErrorContains(t, err, "make calendar: ")
	}

	s := good()
	s.Zone, s.Plans[0].Stages[0].Hold, s.Batches[0].Bench = nil, 0, 7
	_, err = NewCalendar(s)
	for _, want := range []string{"no time zone", "hold 0s", "bench 7"} {
		assert.ErrorContains(t, err, want, "all at once")
	}
}

func TestSetupMayChangeAfterwards(t *testing.T) {
	times := at(t, "15:00", "09:00", "09:00")
	setup := Setup{Zone: time.UTC, Benches: 1, Plans: []Plan{always("p", Stage{At: times})},
		Batches: []Batch{{Name: "a", Transplanted: date(t, "2026-03-02")}}}
	c := mustCalendar(t, setup)
	times[0], setup.Plans[0].Stages[0].Strength, setup.Batches[0].Closed = 0, 1, 1
	d := date(t, "2026-03-05")
	assert.Equal(t, []string{"2026-03-05T09:00", "2026-03-05T15:00"}, locals(c.Between(d.At(0), d.AddDays(1).At(0))),
		"ascending, none twice")
}

func TestTheSlotsOfABenchAreThoseOfAllThatAreItsOwn(t *testing.T) {
	c, err := NewCalendar(Setup{
		Zone: time.UTC, Plans: []Plan{threeStages}, Benches: 3,
		Batches: []Batch{{Name: "old", Bench: 0, Transplanted: DateOf(2026, 2, 1)}, {Name: "young", Bench: 2, Transplanted: DateOf(2026, 3, 2)}},
	})
	require.NoError(t, err)
	from, to := DateOf(2026, 3, 2).At(0), DateOf(2026, 3, 30).At(0)
	var together []Planned
	for b := range 3 {
		for _, p := range c.On(b, from, to) {
			require.Equal(t, b, p.Slot.Bench)
			together = append(together, p)
		}
	}
	assert.ElementsMatch(t, c.Between(from, to), together)
}
