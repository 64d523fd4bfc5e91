//go:build pagetest

package pagetest

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/web"
	"benchtide/controller/web/page"
	"benchtide/safety"
	"benchtide/schedule"
)

// stage is a site in whatever state a test puts it. It is an actor in front of
// the real API and the real page: nothing here controls anything.
type stage struct {
	web.Site // panics on an act that no test stages
	url      string

	mu     sync.Mutex
	status live.Status
	record record
	supply live.Supply
	heard  heard
}

const (
	today = "2026-05-20"
	now   = today + "T13:42:10+01:00"
)

// staged puts two benches on stage, with two months behind them.
func staged(t *testing.T, change ...func(*live.Status)) *stage {
	t.Helper()
	return stagedAs(t, drawings(), change...)
}

// stagedAs puts them there with the drawings, and the titles, that are given.
func stagedAs(t *testing.T, facts live.Facts, change ...func(*live.Status)) *stage {
	t.Helper()
	nine, seven, twenty := 9.4, 6.8, 13.1
	s := &stage{status: calm(), record: season(), supply: live.Supply{Reservoir: "tank", DailyL: 14, HottestL: 19, Days: &nine, DaysHottest: &seven, SpanL: [2]float64{10, 20}, SpanDays: []*float64{&seven, &twenty}, FullDays: &twenty}}
	for _, f := range change {
		f(&s.status)
	}
	zone, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	api := web.New(web.Options{Site: s, Record: s.record, Messages: quiet{}, Zone: zone, Facts: facts})
	mux := http.NewServeMux()
	mux.Handle("/api/v1/", api)
	mux.Handle("/", page.Handler())
	server := httptest.NewServer(mux)
	t.Cleanup(func() {
		api.Close()
		server.CloseClientConnections()
		server.Close()
	})
	s.url = server.URL + "/"
	return s
}

// Status is a copy, with what a person is needed for.
func (s *stage) Status(context.Context) (live.Status, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var st live.Status
	data, err := json.Marshal(s.status)
	if err == nil {
		err = json.Unmarshal(data, &st)
	}
	st.Attend()
	return st, err
}

func (s *stage) Calendar(from schedule.Date, days int) (live.Calendar, error) {
	c := live.Calendar{From: from.String(), Days: days, Conflicts: []live.Conflict{}}
	for _, b := range s.status.Benches {
		if b.Next != nil {
			c.Floods = append(c.Floods, *b.Next)
		}
	}
	return c, nil
}

func (s *stage) Outlook(_ context.Context, from schedule.Date, days int) (live.Outlook, error) {
	o := live.Outlook{From: from.String(), Days: days, Assumed: []string{}, Supplies: []live.Supply{s.supply}}
	for _, k := range s.status.Batches {
		o.Plants = append(o.Plants, live.Plants{Batch: k.Name, Bench: k.Bench, AgeDays: 30, HoldsL: 0.3, Limit: 0.71, Advice: []string{}, Courses: []live.Course{
			{Weather: "mild", Lowest: 0.92, Water: sawtooth(0.92)}, {Weather: "normal", Lowest: 0.86, Water: sawtooth(0.86)}, {Weather: "hottest", Lowest: 0.78, Water: sawtooth(0.78)},
		}})
	}
	return o, nil
}

// sawtooth is the water of a pot that falls to lowest before each flood.
func sawtooth(lowest float64) (w [][2]float64) {
	for h := 0.0; h < 72; h += 8 {
		w = append(w, [2]float64{h, 1}, [2]float64{h + 8, lowest})
	}
	return w
}

func at(clock string) *string {
	s := today + "T" + clock + "+01:00"
	return &s
}

func seconds(v float64) *float64 { return &v }

func flood(id int64, bench, clock string, o controller.Outcome, reason string) controller.Row {
	r := controller.Row{ID: id, Bench: bench, Slot: *at(clock), Due: *at(clock), Cause: controller.BySchedule, Outcome: o, Reason: reason}
	if o != controller.Refused && o != controller.Missed {
		r.Started, r.Ended, r.FillS, r.FallS, r.Litres = at(clock), at(clock), seconds(192), seconds(131), 61
	}
	return r
}

func calm() live.Status {
	dry := map[string]string{"full": "dry", "high": "dry", "empty": "absent", "leak": "dry"}
	bench := func(id int64, name, last, next string) live.BenchStatus {
		row := flood(id, name, last, controller.Proven, "")
		return live.BenchStatus{Name: name, Phase: "rest", Water: "gone", Last: &row, LastProven: at(last), Latched: []live.LatchedTrip{}, Skipped: []live.SkippedFlood{}, Switches: dry,
			Next: &live.Planned{Bench: name, Slot: *at(next), Due: *at(next), Batch: "basil_spring", FromDay: 24, HoldS: 480, Strength: 1, CanWaitS: 72000}}
	}
	stage := 24
	return live.Status{
		Left: []live.LeftBench{},
		Site: "Quarry Lane school greenhouse", At: now, ClockTrusted: true, Plan: "calendar",
		Benches: []live.BenchStatus{bench(81, "north", "11:00:00", "14:00:00"), bench(82, "south", "11:20:00", "14:00:00")},
		Batches: []live.BatchStatus{
			{Name: "basil_spring", Bench: "north", SinceS: 9700, CanWaitS: 72000, LimitS: 72000, LimitBy: "stage", Ratio: 0.13, Stage: &stage, Due: &stage},
			{Name: "parsley", Bench: "south", SinceS: 8500, CanWaitS: 108000, LimitS: 108000, LimitBy: "stage", Ratio: 0.08, Stage: &stage, Due: &stage},
		},
		Reservoirs: []live.ReservoirStatus{{Name: "tank", Low: "wet", Level: "absent", Litres: 240, Basis: "weighed", At: at("11:00:00"), Span: &live.Span{Low: 237, High: 243}, Words: "240 L, weighed 11:00, between 237 and 243 L", TopUp: live.TopUp{OK: true, Words: "Yes: the tables are empty."}}},
		Outputs:    []live.OutputStatus{{Name: "north_pump"}, {Name: "south_pump"}, {Name: "stirrer"}, {Name: "air", On: true}, {Name: "enable"}},
		Record:     live.RecordStatus{Kept: true},
	}
}

func drawings() live.Facts {
	mm := func(v float64) *float64 { return &v }
	bench := func(name string) live.BenchFacts {
		return live.BenchFacts{Name: name, Reservoir: "tank", Pump: name + "_pump", LengthMM: 2400, WidthMM: 1200, RimMM: 75, CrestMM: 30, BoreMM: 50, FullMM: mm(26), HighMM: mm(52),
			ThroughPump: true, FloodL: 117, FillS: 195, FallS: 130, DrainS: 720, OverS: 336, FlowLPerHour: 1144}
	}
	return live.Facts{Site: "Quarry Lane school greenhouse", Timezone: "Europe/Dublin", Version: "1.0.0",
		Benches:    []live.BenchFacts{bench("north"), bench("south")},
		Reservoirs: []live.ReservoirFacts{{Name: "tank", UsableL: 320, KeepL: 20, LowL: mm(240)}},
		Batches: []live.BatchFacts{
			{Name: "basil_spring", Bench: "north", Plan: "basil", Transplanted: "2026-04-20", Pots: 96, PotTopMM: 90},
			{Name: "parsley", Bench: "south", Plan: "parsley", Transplanted: "2026-04-27", Pots: 60, PotTopMM: 110},
		}}
}

// States that a bench or the site can be in.
func filling(s *live.Status) {
	b := &s.Benches[0]
	row := controller.Row{ID: 90, Bench: "north", Slot: *at("13:40:00"), Due: *at("13:40:00"), Cause: controller.BySchedule, Started: at("13:40:03")}
	b.Phase, b.PhaseSince, b.Water, b.Flood = "filling", at("13:40:03"), "standing", &row
	s.Outputs[0].On, s.Outputs[4].On = true, true
	s.Reservoirs[0].TopUp = live.TopUp{Words: "Not now: north holds water that comes back. Wait until it is bare."}
}

func holding(s *live.Status) {
	filling(s)
	b := &s.Benches[0]
	b.Phase, b.PhaseSince, b.Flood.Started, b.Flood.FillS = "holding", at("13:39:12"), at("13:36:00"), seconds(192)
	b.Switches = map[string]string{"full": "wet", "high": "dry", "empty": "absent", "leak": "dry"}
}

func tripped(s *live.Status) {
	b := &s.Benches[0]
	last := flood(90, "north", "13:20:00", controller.Interrupted, "high-level: HIGH of bench “north” shows water or its wire is open")
	b.Last, b.Water = &last, "standing"
	b.Switches = map[string]string{"full": "wet", "high": "wet", "empty": "absent", "leak": "dry"}
	b.Latched = []live.LatchedTrip{
		{At: *at("13:26:41"), Interlock: "high-level", Words: "Water too high", Detail: "HIGH of bench “north” shows water or its wire is open", Remedy: controller.Remedy(safety.HighLevel, "")},
		{At: *at("13:29:41"), Interlock: "drain-window", Words: "Does not drain", Detail: "FULL has not cleared 3 min after the pump stopped", Remedy: controller.Remedy(safety.DrainWindow, "")},
	}
	b.Refusal = &live.Refusal{Interlock: "high-level", Words: "Water too high", Latched: true, Detail: b.Latched[0].Detail}
}

func handsIn(s *live.Status) { s.HandsIn = true }

func paused(s *live.Status) { s.Benches[0].PausedUntil, s.Benches[0].PausedBy = at("18:00:00"), "kim" }

func sanitising(s *live.Status) {
	s.Benches[0].Sanitising, s.Benches[1].Sanitising = at("12:00:00"), at("12:00:00")
}

func thirsty(s *live.Status) {
	s.ClockTrusted, s.Plan = false, "elapsed"
	last := flood(90, "south", "11:20:00", controller.Unproven, "FULL was never made")
	s.Benches[1].Last, s.Benches[1].Next = &last, nil
	s.Batches[1].SinceS, s.Batches[1].Ratio = 113_000, 1.05
	s.Reservoirs[0].Low, s.Reservoirs[0].Litres = "dry", 20
	text := "no space left on device"
	s.Record.Trouble = &text
}

// cleared is a site whose second bench was closed and does not flood any more.
func cleared(s *live.Status) {
	last := "2026-05-10"
	k, b := &s.Batches[1], &s.Benches[1]
	k.Stage, k.Due, k.Closed, k.SinceS, k.CanWaitS, k.LimitS, k.Ratio = nil, nil, &last, 900_000, 0, 0, 0
	b.Next, b.Last, b.LastProven = nil, nil, nil
}

// record is what is kept on stage.
type record struct {
	floods []controller.Row
	trips  []live.Trip
	days   []live.Day
	diary  []live.DiaryEntry
}

// since keeps rows from a moment on.
func since[T any](rows []T, q live.Query, when func(T) string) []T {
	kept := []T{}
	for _, r := range rows {
		at, err := time.Parse(time.RFC3339, when(r))
		if err != nil {
			at, _ = time.Parse(time.DateOnly, when(r))
		}
		if !at.Before(q.Since) {
			kept = append(kept, r)
		}
	}
	if q.Limit > 0 && len(kept) > q.Limit {
		kept = kept[len(kept)-q.Limit:]
	}
	return kept
}

func (r record) Floods(_ context.Context, q live.Query) ([]controller.Row, error) {
	return since(r.floods, q, func(f controller.Row) string { return f.Slot }), nil
}

func (r record) Trips(_ context.Context, q live.Query) ([]live.Trip, error) {
	return since(r.trips, q, func(t live.Trip) string { return t.At }), nil
}

func (r record) Days(_ context.Context, q live.Query) ([]live.Day, error) {
	return since(r.days, q, func(d live.Day) string { return d.Date }), nil
}

func (r record) Diary(_ context.Context, q live.Query) ([]live.DiaryEntry, error) {
	return since(r.diary, q, func(d live.DiaryEntry) string { return d.At }), nil
}

func (record) AddDiary(context.Context, live.Note) error { return nil }

func (record) Export(context.Context, io.Writer, string, string, live.Query) error { return nil }

func (record) Backup(context.Context, io.Writer) error { return nil }

// season is a month in which a screen clogs and is cleaned.
func season() (r record) {
	zone, _ := time.LoadLocation("Europe/Dublin")
	first := time.Date(2026, 4, 20, 0, 0, 0, 0, zone)
	id := int64(0)
	for d := range 31 {
		day := first.AddDate(0, 0, d)
		sum := live.Day{Date: day.Format(time.DateOnly), Floods: map[controller.Outcome]int{}, RunS: map[string]float64{}}
		clogged := float64(d)
		if d >= 22 {
			clogged -= 22
		}
		for i, hour := range []int{8, 11, 14, 17} {
			if d < 24 && i%2 == 1 || d == 30 && hour >= 14 {
				continue
			}
			id++
			start := day.Add(time.Duration(hour) * time.Hour)
			f := controller.Row{ID: id, Bench: "north", Slot: controller.Stamp(start, zone), Due: controller.Stamp(start, zone), Cause: controller.BySchedule, Outcome: controller.Proven}
			s := controller.Stamp(start.Add(3*time.Second), zone)
			f.Started, f.Ended = &s, &s
			f.FillS, f.FallS, f.Litres = seconds(183+clogged*clogged*0.25+float64(id%3)), seconds(129+float64(id%2)), 59
			if d == 9 && hour == 14 {
				f.Outcome, f.Reason, f.FallS = controller.Interrupted, "the program or its power ended it", nil
			}
			sum.Floods[f.Outcome]++
			sum.Litres += safety.Litres(f.Litres)
			sum.RunS["north_pump"] += *f.FillS + 360
			r.floods = append(r.floods, f)
		}
		r.days = append(r.days, sum)
	}
	stamp := func(d, hour int) string {
		return controller.Stamp(first.AddDate(0, 0, d).Add(time.Duration(hour)*time.Hour), zone)
	}
	for _, d := range []int{4, 11, 18, 25} {
		r.diary = append(r.diary, live.DiaryEntry{At: stamp(d, 9), Place: "tank", Kind: "top-up", Value: seconds(60 + float64(d)), Unit: "L", Text: "half strength"})
	}
	r.diary = append(r.diary, live.DiaryEntry{At: stamp(22, 10), Place: "north", Kind: "cleaning", Text: "intake screen, roots"},
		live.DiaryEntry{At: stamp(29, 9), Place: "tank", Kind: "ec", Value: seconds(1.6), Unit: "mS/cm"})
	r.trips = []live.Trip{
		{At: stamp(9, 14), Bench: "north", Interlock: "fill-window", Words: "Filling too slow or too fast", Act: "latched", Latched: true, Detail: "FULL was not made in 5 min 15 s", Remedy: controller.Remedy(safety.FillWindow, "")},
		{At: stamp(9, 18), Bench: "north", Interlock: "fill-window", Words: "Filling too slow or too fast", Act: "reset", Detail: "hose had slipped off, clamp tightened"},
	}
	return r
}

// quiet are messages with no alarm; no act is asked of them here.
type quiet struct{ web.Messages }

func (quiet) Alarms(context.Context) (live.Alarms, error) {
	return live.Alarms{Alarms: []live.Alarm{}}, nil
}
