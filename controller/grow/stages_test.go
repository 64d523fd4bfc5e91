package grow

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

func TestEveryStageIsReckonedAtItsEndWithItsOwnHold(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "12:00"), stage(t, 10, "09:00", "15:00"), stage(t, 24, "08:00", "12:00", "16:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-05-01")})
	all, err := s.StageNeeds(0)
	require.NoError(t, err)
	require.Len(t, all, 3)
	for i, age := range []int{9, 23, 52} {
		assert.Equal(t, i, all[i].Stage)
		assert.Equal(t, age, all[i].Age)
		n := all[i].Needs
		assert.Less(t, n[Mild].Litres, n[Normal].Litres)
		assert.Less(t, n[Normal].Litres, n[Hottest].Litres)
		assert.Greater(t, n[Mild].Lasts, n[Hottest].Lasts)
		assert.GreaterOrEqual(t, n[Hottest].Floods, n[Mild].Floods)
		if i > 0 {
			assert.Greater(t, n[Hottest].Litres, all[i-1].Needs[Hottest].Litres, "plants grow")
		}
		w, err := s.Weather(date(t, "2026-05-01").AddDays(age), Hottest)
		require.NoError(t, err)
		want, err := s.Batches[0].Demand.Need(age, s.contact(&s.Batches[0], plan.Stages[i].Hold), w)
		require.NoError(t, err)
		more := s.Batches[0].Demand
		more.Scale = 1.2 // as advice has it
		spared, err := more.Need(age, s.contact(&s.Batches[0], plan.Stages[i].Hold), w)
		require.NoError(t, err)
		want.Floods, want.Every = spared.Floods, spared.Every
		assert.Equal(t, want, n[Hottest])
	}
}

// How many floods the hottest days need has one answer, in the forecast and in advice.
func TestForecastAndAdviceCountTheSameFloods(t *testing.T) {
	plan := schedule.Plan{Name: "p", Stages: []schedule.Stage{stage(t, 0, "12:00"), stage(t, 24, "08:00", "12:00", "16:00")}}
	s := under(t, plan, schedule.Batch{Name: "b", Transplanted: date(t, "2026-05-01")})
	for age := range 60 {
		on := date(t, "2026-05-01").AddDays(age)
		p, stands, err := s.Forecast(0, on, 1)
		require.NoError(t, err)
		require.True(t, stands)
		assert.Equal(t, must(s.Advise(0, on, 1))[0].Needed, p.Needs[Hottest].Floods, "day %d", age)
	}
}

func TestAStageThatBeginsWhileNobodyIsThereIsToldOnce(t *testing.T) {
	first, second := stage(t, 0, "09:00"), stage(t, 10, "09:00")
	second.Strength = first.Strength + 0.25
	s := under(t, schedule.Plan{Stages: []schedule.Stage{first, second}}, schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02")})
	a := Away{Site: s, Zone: time.UTC, From: date(t, "2026-03-09"), Until: date(t, "2026-03-23")}
	item := a.stages()
	assert.Equal(t, Wrong, item.Mark)
	assert.Equal(t, 1, strings.Count(item.Reason, "enters its stage"), item.Reason)
	assert.Contains(t, item.Reason, "b enters its stage from day 10 on 2026-03-12")
}

// Young plants on a cool site stand a day without a flood, grown ones do not; a day
// that is left out is no day on which nothing is planned.
func TestDaysLeftOutAreJudgedByTheWaterInThePots(t *testing.T) {
	from := date(t, "2026-05-01")
	for age, want := range map[int]Verdict{0: Fits, 60: Uneven} {
		st := stage(t, 0, "12:00")
		st.Every, st.CanWait = 2, 60*time.Hour
		s := under(t, schedule.Plan{Name: "p", Stages: []schedule.Stage{st}}, schedule.Batch{Name: "b", Transplanted: from.AddDays(-age)})
		s.Batches[0].Demand.Space = 0.01
		for _, first := range []schedule.Date{from, from.AddDays(1)} {
			advice, err := s.Advise(0, first, 4)
			require.NoError(t, err)
			require.Len(t, advice, 1, "%+v", advice)
			assert.Equal(t, want, advice[0].Verdict, advice[0].Words)
			if want == Fits {
				assert.Contains(t, advice[0].Words, "one flood every second day: fits")
			} else {
				assert.Zero(t, advice[0].Stage.Every, "a stage that would fix it floods daily")
			}
		}
	}
}
