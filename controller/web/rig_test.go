package web_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/web"
	"benchtide/safety"
	"benchtide/schedule"
)

// noon is when the tests are.
var noon = time.Date(2026, 3, 12, 12, 0, 0, 0, time.UTC)

func names() live.Names {
	return live.Names{
		Names: controller.Names{
			Site: "greenhouse", Zone: time.UTC, Benches: []string{"north", "south"}, Reservoirs: []string{"tank"}, Batches: []string{"basil"},
			Outputs: []string{"pump"}, BenchOf: []int{1},
		},
		FromDay: func(_, stage int) int { return 10 * stage },
		Plan: func(p schedule.Planned) live.Planned {
			return live.Planned{Bench: "north", Slot: controller.Stamp(p.Due, time.UTC), Due: controller.Stamp(p.Due, time.UTC), Batch: "basil", HoldS: p.Hold.Seconds()}
		},
	}
}

// busy is a site on which everything is the case at once.
func busy() controller.Status {
	flood := controller.Flood{ID: 7, HasSlot: true, Slot: schedule.CivilIn(noon, time.UTC), Due: noon, Cause: controller.BySchedule, Started: noon, Fill: 183 * time.Second}
	return controller.Status{
		Now: safety.Now{Mono: time.Hour, Wall: noon, Trusted: true}, Calendar: true, HandsIn: true,
		Benches: []controller.BenchStatus{
			{
				Phase: controller.Holding, Since: 50 * time.Minute, Flood: flood, Last: controller.Flood{ID: 6, Due: noon, Cause: controller.ByHand, Outcome: controller.Short}, LastProven: noon,
				Next: schedule.Planned{Due: noon.Add(time.Hour), Hold: time.Minute}, HasNext: true, Queued: 1,
				Start: safety.Refusal{Interlock: safety.MinRest, Detail: "the pump rests", Until: 2 * time.Hour}, Full: safety.Wet, Water: safety.Standing,
			},
			{
				Paused: true, PausedUntil: noon.Add(time.Minute), PausedBy: "Kim", Sanitising: noon.Add(-time.Hour), Start: safety.Refusal{Interlock: safety.HighLevel, Latched: true, Detail: "HIGH was made"},
				Latched: []safety.Trip{{Interlock: safety.HighLevel, At: 30 * time.Minute, Latched: true, Detail: "HIGH was made"}},
			},
		},
		Batches: []controller.BatchStatus{{
			Since: 3*time.Hour + 123*time.Millisecond, CanWait: 30 * time.Hour, Limit: 30 * time.Hour, Ratio: 0.100003,
			Stands: true, Stage: 1, Due: 2, Closed: schedule.DateOf(2026, 5, 30),
		}},
		Reservoirs: []controller.ReservoirStatus{{Low: safety.Wet, Litres: 140, Basis: controller.Weighed, Since: noon, Span: [2]safety.Litres{138, 142}, Came: controller.Unexplained{Litres: 40, From: noon, At: noon}}},
	}
}

// fakeSite is busy, and answers every act with err.
type fakeSite struct {
	by      controller.Asker // of the last act that starts or stops water
	err     error
	skipped time.Time             // when the flood of a skip is due
	silent  atomic.Pointer[error] // of Status; the streams ask beside the test
	shown   *live.Status          // in place of busy
	slow    time.Duration         // that Status takes
	asked   atomic.Int64          // how often it was
	acts    []string

	explained live.Explained
}

// silence has Status fail from now on.
func (s *fakeSite) silence(err error) { s.silent.Store(&err) }

func (s *fakeSite) silenced() error {
	if err := s.silent.Load(); err != nil {
		return *err
	}
	return nil
}

func (s *fakeSite) Status(context.Context) (live.Status, error) {
	s.asked.Add(1)
	time.Sleep(s.slow)
	if s.shown != nil {
		shown := *s.shown
		shown.Attend()
		return shown, s.silenced()
	}
	st, n := busy(), names()
	shown := live.StatusOf(&st, &n)
	shown.Outputs = append(shown.Outputs, live.OutputStatus{Name: "pump", On: true})
	shown.Attend()
	return shown, s.silenced()
}

func (s *fakeSite) Calendar(from schedule.Date, days int) (live.Calendar, error) {
	n := names()
	return live.Calendar{
		From: from.String(), Days: days, Floods: []live.Planned{n.Plan(schedule.Planned{Due: noon})},
		Conflicts: []live.Conflict{{Bench: "north", From: from.String(), To: from.String()}},
	}, nil
}

func (s *fakeSite) Outlook(_ context.Context, from schedule.Date, days int) (live.Outlook, error) {
	left := 12.5
	return live.Outlook{
		From: from.String(), Days: days, Assumed: []string{"the example's climate"},
		Plants:    []live.Plants{{Batch: "basil", Bench: "south", AgeDays: 10, Courses: []live.Course{{Weather: "mild", Water: [][2]float64{{0, 1}, {1, 0.98}}}}, Advice: []string{"it fits"}, Ages: []live.Cohort{{Since: "2026-03-02", Pots: 96}}}},
		Supplies:  []live.Supply{{Reservoir: "tank", DailyL: 4, HottestL: 9, SpanL: [2]float64{3, 6}, Days: &left, SpanDays: []*float64{&left, nil}, Solution: &live.Solution{Known: true, Days: 3, Reasons: []string{"old"}}}},
		Proposals: []live.Proposal{{Batch: "basil", FromDay: 24, Words: "it is old enough"}}, Questions: []live.Question{{Bench: "south", Words: "has it gone?"}},
	}, s.err
}

func (s *fakeSite) act(format string, args ...any) error {
	s.acts = append(s.acts, fmt.Sprintf(format, args...))
	return s.err
}

func (s *fakeSite) Flood(_ context.Context, b int, hold time.Duration, by controller.Asker) error {
	s.by = by
	return s.act("flood %d %s", b, hold)
}
func (s *fakeSite) Stop(_ context.Context, b int, by controller.Asker) error {
	s.by = by
	return s.act("stop %d", b)
}
func (s *fakeSite) Pause(_ context.Context, b []int, until time.Time, by string) error {
	return s.act("pause %d until %s by %s", b, controller.Stamp(until, time.UTC), by)
}
func (s *fakeSite) Resume(_ context.Context, b []int) error { return s.act("resume %d", b) }
func (s *fakeSite) HandsIn(_ context.Context, on bool, by controller.Asker) error {
	s.by = by
	return s.act("hands-in %t", on)
}
func (s *fakeSite) Reset(_ context.Context, b int, found string) error {
	return s.act("reset %d %s", b, found)
}
func (s *fakeSite) Drop(_ context.Context, name, found string) error {
	return s.act("drop %s %s", name, found)
}
func (s *fakeSite) SkipNext(_ context.Context, b int, slot schedule.Civil) (live.SkippedFlood, error) {
	return live.Skipped(schedule.Planned{Slot: schedule.Slot{Local: slot}, Due: s.skipped}, time.UTC), s.act("skip %d %s", b, slot)
}
func (s *fakeSite) UndoSkip(_ context.Context, b int, slot schedule.Civil) (live.SkippedFlood, error) {
	return live.Skipped(schedule.Planned{Slot: schedule.Slot{Local: slot}, Due: s.skipped}, time.UTC), s.act("undo skip %d %s", b, slot)
}

func (s *fakeSite) Sanitise(_ context.Context, b int, by string) error {
	return s.act("sanitise %d by %s", b, by)
}
func (s *fakeSite) Rinsed(_ context.Context, b int, by string) error {
	return s.act("rinsed %d by %s", b, by)
}
func (s *fakeSite) Advance(_ context.Context, batch int, fromDay *int) (int, error) {
	if fromDay == nil {
		return 24, s.act("advance %d", batch)
	}
	return *fromDay, s.act("advance %d to %d", batch, *fromDay)
}
func (s *fakeSite) CloseBatch(_ context.Context, batch int, last schedule.Date) error {
	return s.act("close %d on %s", batch, last)
}
func (s *fakeSite) Empty(_ context.Context, b int) ([]string, error) {
	return []string{"basil"}, s.act("empty %d", b)
}

func (s *fakeSite) TookOut(_ context.Context, k int, shown float64, by string) (live.Explained, error) {
	return s.explained, s.act("took out of %d: %v by %s", k, shown, by)
}
func (s *fakeSite) ToppedUp(_ context.Context, k int, poured bool, shown float64, by string) (live.Explained, error) {
	return s.explained, s.act("topped up %d: %t %v by %s", k, poured, shown, by)
}

// fakeRecord has one row of everything, or err.
type fakeRecord struct {
	err   error
	asked live.Query
	notes []live.Note

	floods []controller.Row // in place of one row
	days   []live.Day
	diary  []live.DiaryEntry
}

func (r *fakeRecord) Floods(_ context.Context, q live.Query) ([]controller.Row, error) {
	r.asked = q
	if r.floods != nil || r.days != nil {
		return r.floods, r.err
	}
	return []controller.Row{controller.RowOf(busy().Benches[0].Flood, []string{"north"}, time.UTC)}, r.err
}

func (r *fakeRecord) Trips(_ context.Context, q live.Query) ([]live.Trip, error) {
	r.asked = q
	return []live.Trip{{At: controller.Stamp(noon, time.UTC), Bench: "north", Interlock: "high-level", Act: "tripped", Times: 1, Last: controller.Stamp(noon, time.UTC)}}, r.err
}

func (r *fakeRecord) Days(_ context.Context, q live.Query) ([]live.Day, error) {
	r.asked = q
	if r.days != nil {
		return r.days, r.err
	}
	return []live.Day{{Date: "2026-03-12", Floods: map[controller.Outcome]int{"proven": 1}, RunS: map[string]float64{"pump": 540.5}}}, r.err
}

func (r *fakeRecord) Diary(_ context.Context, q live.Query) ([]live.DiaryEntry, error) {
	r.asked = q
	if r.diary != nil {
		return r.diary, r.err
	}
	return []live.DiaryEntry{{At: controller.Stamp(noon, time.UTC), Kind: "note", Text: "all well"}}, r.err
}

func (r *fakeRecord) AddDiary(_ context.Context, n live.Note) error {
	if n.Kind == "" {
		return live.Invalid{Reason: "no kind"}
	}
	r.notes = append(r.notes, n)
	return r.err
}

func (r *fakeRecord) Export(_ context.Context, w io.Writer, table, format string, q live.Query) error {
	r.asked = q
	if table == "fish" {
		return live.Invalid{Reason: "table: fish"}
	}
	_, _ = io.WriteString(w, table+" as "+format)
	return r.err
}

func (r *fakeRecord) Backup(_ context.Context, w io.Writer) error {
	if r.err != nil {
		return r.err
	}
	_, err := io.WriteString(w, "SQLite")
	return err
}

// rig is an API on a fake site.
type rig struct {
	t      testing.TB
	api    *web.API
	site   *fakeSite
	record *fakeRecord
}

func newRig(t testing.TB) *rig {
	r := &rig{t: t, site: &fakeSite{skipped: noon.Add(3 * time.Hour)}, record: &fakeRecord{}}
	full := 26.0
	r.api = web.New(web.Options{Site: r.site, Record: r.record, Messages: &fakeMessages{site: r.site}, Zone: time.UTC, Facts: live.Facts{
		Site: "greenhouse", Timezone: "UTC", Version: "1",
		Benches:    []live.BenchFacts{{Name: "north", Reservoir: "tank", FullMM: &full}, {Name: "south", Reservoir: "barrel"}},
		Reservoirs: []live.ReservoirFacts{{Name: "tank"}},
		Batches:    []live.BatchFacts{{Name: "basil", Bench: "south", Transplanted: "2026-03-02"}},
	}})
	t.Cleanup(r.api.Close)
	return r
}

// request sends one request as the program's own clients do.
func (r *rig) request(method, path, body string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	q := httptest.NewRequest(method, "http://127.0.0.1:8347/api/v1"+path, strings.NewReader(body))
	q.RemoteAddr = "127.0.0.1:40000"
	if method == http.MethodPost {
		q.Header.Set("Content-Type", "application/json")
		q.Header.Set("X-Benchtide", "act")
	}
	for _, f := range change {
		f(q)
	}
	w := httptest.NewRecorder()
	web.NamedLocally(web.SameOrigin(r.api)).ServeHTTP(w, q)
	return w
}

var errStorage = errors.New("no space left on device")
