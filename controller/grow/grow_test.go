package grow

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

func date(t *testing.T, s string) schedule.Date {
	t.Helper()
	d, err := schedule.ParseDate(s)
	require.NoError(t, err)
	return d
}

func at(t *testing.T, times ...string) (all []schedule.TimeOfDay) {
	t.Helper()
	for _, s := range times {
		c, err := schedule.ParseTimeOfDay(s)
		require.NoError(t, err)
		all = append(all, c)
	}
	return all
}

// under is a site of one bench under glass at 53° north in a warm spring, with
// 96 pots of 9 cm on 2.88 m² for each batch.
func under(t *testing.T, plan schedule.Plan, batches ...schedule.Batch) *Site {
	t.Helper()
	setup := schedule.Setup{Zone: time.UTC, Light: schedule.Sun{Latitude: 53, Zone: time.UTC}, Plans: []schedule.Plan{plan}, Batches: batches, Benches: 1}
	c, err := schedule.NewCalendar(setup)
	require.NoError(t, err)
	s := &Site{
		Calendar: c, Plans: setup.Plans, Place: demand.Location{Latitude: 53, Cover: 0.7}, Falls: []time.Duration{2 * time.Minute},
		Line: func(time.Month) demand.Line {
			return demand.Line{
				Lows: demand.Span[demand.Celsius]{Least: 10, Most: 18}, Highs: demand.Span[demand.Celsius]{Least: 18, Most: 30},
				Humidity: demand.Span[demand.Percent]{Least: 50, Most: 85}, Light: demand.Span[demand.Megajoules]{Least: 4, Most: 27},
			}
		},
	}
	pot, err := demand.NewPot(0.35, 0.87)
	require.NoError(t, err)
	for _, b := range batches {
		s.Batches = append(s.Batches, Batch{Batch: b, Demand: demand.Batch{Pots: 96, Pot: pot, Space: 0.03, Crop: demand.LeafyYoung}})
	}
	return s
}

func stage(t *testing.T, from int, times ...string) schedule.Stage {
	return schedule.Stage{FromDay: from, At: at(t, times...), Hold: 6 * time.Minute, Strength: 0.5, CanWait: 48 * time.Hour}
}

func TestVerdictsTellSeldomOftenUnevenAndUnplacedApart(t *testing.T) {
	from := date(t, "2026-05-01")
	for name, c := range map[string]struct {
		age   int
		stage schedule.Stage
		want  Verdict
	}{
		"one flood for the young":    {0, stage(t, 0, "12:00"), Fits},
		"four for the young":         {0, stage(t, 0, "08:00", "11:00", "14:00", "17:00"), Often},
		"one for the grown":          {60, stage(t, 0, "12:00"), Seldom},
		"three within one morning":   {30, stage(t, 0, "06:00", "06:30", "07:00"), Uneven},
		"before the first stage":     {0, stage(t, 30, "12:00"), Unplaced},
		"three for the grown, a few": {34, stage(t, 0, "07:15", "12:00", "16:45"), Fits},
	} {
		t.Run(name, func(t *testing.T) {
			s := under(t, schedule.Plan{Name: "p", Stages: []schedule.Stage{c.stage}}, schedule.Batch{Name: "b", Transplanted: from.AddDays(-c.age)})
			advice, err := s.Advise(0, from, 3)
			require.NoError(t, err)
			require.Len(t, advice, 1, "%+v", advice)
			assert.Equal(t, c.want, advice[0].Verdict, advice[0].Words)
			assert.NotEmpty(t, advice[0].Words)
		})
	}
}

// cool is the same bench in a cool, dull month, in which pots last for days.
func cool(t *testing.T, plan schedule.Plan, batches ...schedule.Batch) *Site {
	s := under(t, plan, batches...)
	s.Line = func(time.Month) demand.Line {
		return demand.Line{
			Lows: demand.Span[demand.Celsius]{Least: 8, Most: 12}, Highs: demand.Span[demand.Celsius]{Least: 12, Most: 17},
			Humidity: demand.Span[demand.Percent]{Least: 60, Most: 90}, Light: demand.Span[demand.Megajoules]{Least: 1, Most: 5},
		}
	}
	return s
}

// Followed, the advice leaves nothing to advise, and the pots stay above their limit.
func TestPotsThatLastForDaysAreFloodedEverySecondOrThird(t *testing.T) {
	from := date(t, "2026-11-20")
	b := schedule.Batch{Name: "b", Transplanted: from.AddDays(-3)}
	plan := schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "12:00")}}
	for age, every := range map[int]int{3: 3, 18: 2} {
		b.Transplanted = from.AddDays(-age)
		advice, err := cool(t, plan, b).Advise(0, from, 10)
		require.NoError(t, err)
		require.Equal(t, Often, advice[0].Verdict, advice[0].Words)
		assert.Equal(t, every, advice[0].Stage.Every, advice[0].Words)
		assert.Contains(t, advice[0].Words, "one flood, every "+map[int]string{2: "second", 3: "third"}[every]+" day at ")
		assert.Greater(t, advice[0].Stage.CanWait, time.Duration(every)*24*time.Hour)

		followed := cool(t, Follow(plan, advice), b)
		for _, a := range must(followed.Advise(0, from, 10)) {
			assert.Equal(t, Fits, a.Verdict, a.Words)
		}
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func TestPotsThatNoNumberOfFloodsCanKeepAreSaidToBeBeyondFloods(t *testing.T) {
	from := date(t, "2026-06-01")
	short := stage(t, 0, "12:00")
	short.Hold = time.Second
	s := under(t, schedule.Plan{Stages: []schedule.Stage{short}}, schedule.Batch{Name: "b", Transplanted: from.AddDays(-60)})
	s.Falls[0] = 0
	s.Batches[0].Demand.Space = 1
	advice, err := s.Advise(0, from, 3)
	require.NoError(t, err)
	assert.Equal(t, Beyond, advice[0].Verdict)
	assert.Contains(t, advice[0].Words, "no number of floods")
}

func TestAShortHoldIsLengthenedWhereMoreFloodsDoNotHelp(t *testing.T) {
	from := date(t, "2026-06-01")
	short := stage(t, 0, "12:00")
	short.Hold = 25 * time.Second
	s := under(t, schedule.Plan{Stages: []schedule.Stage{short}}, schedule.Batch{Name: "b", Transplanted: from.AddDays(-60)})
	s.Falls[0] = 0
	s.Batches[0].Demand.Space = 0.045
	for s.Batches[0].Demand.Space < 0.5 {
		advice, err := s.Advise(0, from, 1)
		require.NoError(t, err)
		if advice[0].Stage.Hold > short.Hold {
			assert.Zero(t, advice[0].Stage.Hold%short.Hold)
			return
		}
		s.Batches[0].Demand.Space *= 1.2
	}
	t.Fatal("no space at which a longer hold is advised")
}

func TestPlantsBeforeTransplantAndAfterTheirLastDayHaveNoForecast(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-05-01"), Closed: date(t, "2026-05-10")})
	for day, stands := range map[string]bool{"2026-04-30": false, "2026-05-01": true, "2026-05-10": true, "2026-05-11": false} {
		p, got, err := s.Forecast(0, date(t, day), 5)
		require.NoError(t, err)
		assert.Equal(t, stands, got, day)
		if day == "2026-05-10" {
			assert.Equal(t, 1, p.Days)
		}
	}
}

func TestAForecastOfHotterDaysIsDrierAndEachFloodWetsIt(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "12:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-04-01")})
	p, _, err := s.Forecast(0, date(t, "2026-05-15"), 4)
	require.NoError(t, err)
	assert.Greater(t, p.Courses[Mild].Lowest, p.Courses[Normal].Lowest)
	assert.Greater(t, p.Courses[Normal].Lowest, p.Courses[Hottest].Lowest)
	assert.Zero(t, p.Courses[Mild].Below)
	assert.NotZero(t, p.Courses[Hottest].Below)
	require.Len(t, p.Floods, 4)
	points := p.Courses[Hottest].Points
	rises := 0
	for i := 1; i < len(points); i++ {
		if points[i].Share > points[i-1].Share {
			rises++
			assert.Equal(t, points[i].At, points[i-1].At)
			assert.Equal(t, at(t, "12:00")[0], points[i].At.TimeOfDay())
		}
	}
	assert.Equal(t, 4, rises)
}

func TestLampsAddLightWaterAndHours(t *testing.T) {
	s := under(t, schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}, schedule.Batch{Name: "b", Transplanted: date(t, "2026-01-01")})
	d := date(t, "2026-01-10")
	dark := s.Light(d)
	before, err := s.Weather(d, Normal)
	require.NoError(t, err)
	assert.False(t, dark.Enough())
	assert.True(t, dark.OutOfReach())

	hours := schedule.Lamps{On: at(t, "05:00")[0], Off: at(t, "21:00")[0]}
	s.Lamps = []Lamp{{hours, 180}}
	lit := s.Light(d)
	assert.InDelta(t, 180*16*3600e-6, lit.Lamps, 1e-9)
	assert.InDelta(t, EnoughLight, dark.Dull+180*float64(lit.Wanted)*3600e-6, 1e-9)
	after, err := s.Weather(d, Normal)
	require.NoError(t, err)
	assert.Greater(t, after.Reference, before.Reference)
	assert.Equal(t, demand.Shine{Rise: 5 * time.Hour, Set: 21 * time.Hour}, after.Shine)

	s.Lamps[0].Flux = 90 // another fixture, or hung higher
	assert.InDelta(t, lit.Lamps/2, s.Light(d).Lamps, 1e-9)

	through := Lamp{Lamps: schedule.Lamps{On: at(t, "18:00")[0], Off: at(t, "10:00")[0]}, Flux: 100}
	assert.InDelta(t, 16, float64(through.hours()), 1e-9)
	assert.Equal(t, demand.Shine{Set: 24 * time.Hour}, through.over(demand.ShineFor(8)))
	always := Lamp{Flux: 100}
	assert.InDelta(t, 24, float64(always.hours()), 1e-9)
}

func TestPolarNightLeavesTheLampsAlone(t *testing.T) {
	s := under(t, schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}, schedule.Batch{Name: "b", Transplanted: date(t, "2026-12-01")})
	s.Place.Latitude = 78
	s.Lamps = []Lamp{{schedule.Lamps{On: at(t, "06:00")[0], Off: at(t, "20:00")[0]}, 200}}
	l := s.Light(date(t, "2026-12-20"))
	assert.Zero(t, l.Bright)
	assert.True(t, l.Enough())
	w, err := s.Weather(date(t, "2026-12-20"), Hottest)
	require.NoError(t, err)
	assert.Equal(t, demand.Shine{Rise: 6 * time.Hour, Set: 20 * time.Hour}, w.Shine)
	_, err = s.Advise(0, date(t, "2026-12-20"), 3)
	assert.NoError(t, err)
}

func TestFollowKeepsThePlanOutsideTheDaysOfTheAdvice(t *testing.T) {
	plan := schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "09:00"), stage(t, 10, "10:00"), stage(t, 30, "11:00")}}
	advised := stage(t, 12, "08:00", "15:00")
	from := date(t, "2026-05-13")
	got := Follow(plan, []Advice{{Age: 12, From: from, To: from.AddDays(4), Stage: advised}})
	assert.Equal(t, []schedule.Stage{plan.Stages[0], plan.Stages[1], advised, plan.Stages[2]}, got.Stages)
	assert.Equal(t, plan, Follow(plan, nil))
}

func TestFollowSaysNoStageTwiceWhereThePlannedOneFits(t *testing.T) {
	plan := schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "09:00"), stage(t, 10, "10:00")}}
	from := date(t, "2026-05-07")
	got := Follow(plan, []Advice{{Age: 6, From: from, To: from.AddDays(3), Stage: stage(t, 6, "09:00")}})
	assert.Equal(t, plan, got)
}

func TestMixedAgesAreToldWithTheirChoices(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00"), {FromDay: 20, At: at(t, "09:00"), Hold: 8 * time.Minute, Strength: 1, CanWait: 48 * time.Hour}}}
	s := under(t, plan, schedule.Batch{Name: "old", Transplanted: date(t, "2026-04-01")}, schedule.Batch{Name: "young", Transplanted: date(t, "2026-05-01")})
	kinds := map[schedule.ConflictKind]string{schedule.StrengthConflict: "move young to a bench with a reservoir of its own", schedule.HoldConflict: "the pots of old"}
	for _, c := range s.Calendar.Conflicts(date(t, "2026-05-02"), date(t, "2026-05-04")) {
		assert.Contains(t, s.Choices(c), kinds[c.Kind])
		delete(kinds, c.Kind)
	}
	assert.Empty(t, kinds)
	assert.Contains(t, s.Choices(schedule.Conflict{Kind: schedule.GapConflict, Batches: []int{0}}), "flood more often")
	assert.Contains(t, s.Choices(schedule.Conflict{Kind: schedule.GapConflict, Batches: []int{0}, Change: true}), "let the next stage flood earlier")
}

// Half the feed for so many days costs half of them, and feeding by hand what the
// forecast says that its plants use; what is best goes by both and by the benches.
func TestACompromiseIsToldByItsCostAndTheBestChoiceFirst(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00"), {FromDay: 20, At: at(t, "09:00"), Hold: 6 * time.Minute, Strength: 1, CanWait: 48 * time.Hour}}}
	s := under(t, plan, schedule.Batch{Name: "old", Transplanted: date(t, "2026-04-01")}, schedule.Batch{Name: "young", Transplanted: date(t, "2026-05-01")})
	first := date(t, "2026-05-01")
	for days, begins := range map[int][2]string{3: {"leave it", "leave it"}, 16: {"feed old by hand", "move young"}} {
		c := schedule.Conflict{Kind: schedule.StrengthConflict, Batches: []int{0, 1}, From: first, To: first.AddDays(days - 1)}
		costs, err := s.Costs(c)
		require.NoError(t, err)
		require.Len(t, costs, 1, "young gets all that it asks")
		var uses demand.Litres
		for d := range days {
			p, _, err := s.Forecast(0, first.AddDays(d), 1)
			require.NoError(t, err)
			uses += p.Needs[Normal].Litres
		}
		assert.InDelta(t, float64(uses), float64(costs[0].Litres), 1e-6)
		assert.InDelta(t, float64(days)/2, costs[0].Feed, 1e-9)
		assert.Equal(t, [3]float64{float64(days), 0.5, 1}, [3]float64{float64(costs[0].Days), costs[0].Least, costs[0].Asked})
		s.Reservoirs = 1
		alone := s.Choices(c)
		s.Reservoirs = 2
		assert.Equal(t, begins, [2]string{alone[:len(begins[0])], s.Choices(c)[:len(begins[1])]}, "%s", alone)
	}
}

// What was drunk is asked for again and again: the weather of a day is worked out
// once, and however many days came between, the answer stays the same.
func TestWhatWasDrunkIsTheSameOfDaysThatAreKept(t *testing.T) {
	s := under(t, schedule.Plan{Name: "basil", Stages: []schedule.Stage{stage(t, 0, "09:00")}}, schedule.Batch{Name: "a", Transplanted: date(t, "2026-03-02")})
	asked, line := 0, s.Line
	s.Line = func(m time.Month) demand.Line { asked++; return line(m) }
	from := date(t, "2026-03-02").At(8 * 3600).In(time.UTC)
	drunk := func(d *Days, day, hours int, k Kind) demand.Litres {
		begin := from.AddDate(0, 0, day)
		litres, err := d.Drunk(0, begin, begin.Add(time.Duration(hours)*time.Hour), time.UTC, k)
		require.NoError(t, err)
		return litres
	}
	days := NewDays(s)
	for range 3 {
		for day := range 60 {
			for hours := 1; hours < 72; hours += 7 {
				for _, k := range Kinds {
					require.Equal(t, drunk(NewDays(s), day, hours, k), drunk(days, day, hours, k))
				}
			}
		}
	}
	assert.Greater(t, drunk(days, 30, 24, Hottest), drunk(days, 30, 24, Normal))
	asked = 0
	for range 1000 {
		drunk(days, 30, 24, Normal)
		drunk(days, 30, 24, Hottest)
	}
	assert.LessOrEqual(t, asked, 2)
}
