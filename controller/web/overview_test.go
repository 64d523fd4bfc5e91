package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/web"
)

// asked decodes the answer to a GET.
func asked[T any](t *testing.T, r *rig, path string) (v T) {
	t.Helper()
	w := r.request("GET", path, "")
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &v))
	return v
}

func TestAFirstLookIsOneAnswer(t *testing.T) {
	o := asked[web.Overview](t, newRig(t), "/overview")
	assert.Equal(t, "greenhouse", o.Facts.Site)
	assert.Equal(t, "holding", o.Status.Benches[0].Phase)
	assert.Len(t, o.Today, 1)
	assert.Equal(t, "2026-03-12", o.Outlook.From)
	assert.Len(t, o.Trips, 1)
	assert.Len(t, o.Diary, 1)
	assert.Nil(t, o.Recorded)
	assert.Empty(t, o.Planned, "what was due at this moment is no longer to come")
}

func TestAFirstLookShowsTheBenchesWhenStorageIsGone(t *testing.T) {
	r := newRig(t)
	r.record.err = errStorage
	o := asked[web.Overview](t, r, "/overview")
	assert.Equal(t, "holding", o.Status.Benches[0].Phase)
	require.NotNil(t, o.Recorded)
	assert.Contains(t, *o.Recorded, "no space left")
	assert.Len(t, o.Today, 1, "what memory knows is shown")
}

// season is a record of so many days with floods on each of two benches.
func season(days, floods int) (rows []controller.Row, byDay []live.Day) {
	for d := range days {
		day := noon.AddDate(0, 0, d-days)
		byDay = append(byDay, live.Day{Date: day.Format("2006-01-02"), Floods: map[controller.Outcome]int{"proven": floods}, Litres: 58.2, RunS: map[string]float64{"pump": 540.5}})
		for i := range floods {
			at := controller.Stamp(day.Add(time.Duration(i)*time.Minute), time.UTC)
			fill := 180 + float64(i)
			row := controller.Row{Bench: []string{"north", "south"}[i%2], Started: &at, Outcome: controller.Proven, FillS: &fill, Litres: 60}
			rows = append(rows, row)
		}
	}
	return rows, byDay
}

func TestASeriesStaysWithinItsBoundsAndLosesNothing(t *testing.T) {
	for _, c := range []struct{ days, floods, every, bars, points int }{
		{30, 4, 1, 30, 120},
		{200, 5, 1, 200, 1000},
		{201, 5, 2, 101, 503},   // 603 and 402 floods, two in a point
		{1826, 6, 10, 183, 996}, // five years
	} {
		r := newRig(t)
		r.record.floods, r.record.days = season(c.days, c.floods)
		s := asked[web.Series](t, r, "/series?since=3650%20d")
		name := fmt.Sprintf("%d days of %d floods", c.days, c.floods)
		assert.Equal(t, c.every, s.EveryDays, name)
		assert.Equal(t, c.bars, len(s.Days), name)
		assert.Equal(t, c.points, len(s.Floods), name)
		proven, ran, of := 0, 0.0, 0
		for _, d := range s.Days {
			proven, ran = proven+d.Floods["proven"], ran+d.RunS["pump"]
		}
		for _, p := range s.Floods {
			of += p.Of
			assert.InDelta(t, 182.5, *p.FillS, 2.6, "%s: %+v", name, p)
		}
		assert.Equal(t, c.days*c.floods, proven, name)
		assert.Equal(t, c.days*c.floods, of, name)
		assert.InDelta(t, float64(c.days)*540.5, ran, 0.01, name)
	}
}

func TestASeriesCarriesTheMarksThatMoveItsCourses(t *testing.T) {
	r := newRig(t)
	for _, e := range []live.DiaryEntry{
		{Kind: "cleaning", Place: "north"}, {Kind: "ec", Place: "tank"}, {Kind: "top-up", Place: "tank"}, {Kind: "solution-change", Place: "barrel"},
		{Kind: "note"}, {Kind: "cleaning", Place: "south"},
	} {
		e.At = controller.Stamp(noon, time.UTC)
		r.record.diary = append(r.record.diary, e)
	}
	marked := func(path string) (all []string) {
		for _, m := range asked[web.Series](t, r, path).Marks {
			all = append(all, m.Kind+" "+m.Place)
		}
		return all
	}
	assert.Equal(t, []string{"transplanted basil", "cleaning north", "top-up tank", "solution-change barrel", "note ", "cleaning south"}, marked("/series"))
	assert.Equal(t, []string{"cleaning north", "top-up tank", "note "}, marked("/series?bench=north"), "those of the bench and of its reservoir")
	assert.Equal(t, []string{"cleaning north", "top-up tank", "solution-change barrel", "note ", "cleaning south"}, marked("/series?since=1%20d"), "the batch came before")
	for range 400 {
		r.record.diary = append(r.record.diary, live.DiaryEntry{At: controller.Stamp(noon, time.UTC), Kind: "note"})
	}
	assert.Len(t, marked("/series"), 300)
}
