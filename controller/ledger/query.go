package ledger

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/safety"
	"benchtide/schedule"
)

// Query says which rows are wanted, oldest first.
type Query struct {
	Bench string    // or other place; empty means all
	Since time.Time // floods due from here, other rows from here; zero means all
	Limit int       // the newest so many; 0 means all
}

func (q Query) args() []any {
	since, limit := int64(-1<<62), q.Limit
	if !q.Since.IsZero() {
		since = q.Since.UnixMilli()
	}
	if limit <= 0 {
		limit = -1
	}
	return []any{q.Bench, since, limit}
}

// selection is a query of one table and how its rows are read.
type selection[T any] struct {
	columns string
	from    string
	place   string // the column that Query.Bench is compared with
	at      string // the column that Query.Since is compared with
	order   string
	scan    func(rows *sql.Rows, zone *time.Location) (T, error)
}

// text is the query, newest first where only the newest are wanted.
func (s *selection[T]) text(newestFirst bool) string {
	place := "?1 = ?1"
	if s.place != "" {
		place = "(?1 = '' OR " + s.place + " = ?1)"
	}
	order := s.order
	if newestFirst {
		order = strings.ReplaceAll(order, ",", " DESC,") + " DESC"
	}
	return fmt.Sprintf("SELECT %s FROM %s WHERE %s AND %s >= ?2 ORDER BY %s LIMIT ?3", s.columns, s.from, place, s.at, order)
}

// read yields the rows of a selection, oldest first unless the query has a
// limit. The last pair may hold an error.
func read[T any](ctx context.Context, l *Ledger, s *selection[T], q Query) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var none T
		fail := func(err error) { yield(none, fmt.Errorf("read %s of the ledger: %w", s.from, err)) }
		rows, err := l.reader.QueryContext(ctx, s.text(q.Limit > 0), q.args()...)
		if err != nil {
			fail(err)
			return
		}
		defer func() { _ = rows.Close() }()
		for rows.Next() {
			v, err := s.scan(rows, l.zone)
			if err != nil {
				fail(err)
				return
			}
			if !yield(v, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			fail(err)
		}
	}
}

// list collects the rows of a selection, oldest first.
func list[T any](ctx context.Context, l *Ledger, s *selection[T], q Query) ([]T, error) {
	all := []T{}
	for v, err := range read(ctx, l, s, q) {
		if err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	if q.Limit > 0 {
		slices.Reverse(all)
	}
	return all, nil
}

const floodColumns = `id, bench, slot, due, cause, attempt, hold, strength, started, ended, coalesce(outcome, ''), reason,
	coalesce(fill, 0), coalesce(stood, 0), coalesce(fall, 0), coalesce(run, 0), litres, counted, unrecorded, watched, intended`

var floods = selection[flood]{
	columns: floodColumns, from: "floods", place: "bench", at: "due", order: "due, id",
	scan: func(rows *sql.Rows, _ *time.Location) (flood, error) { return scanFlood(rows) },
}

func scanFlood(rows *sql.Rows) (flood, error) {
	var f flood
	var slot sql.NullString
	var due, hold, fill, stood, fall, run int64
	var started, ended sql.NullInt64
	err := rows.Scan(&f.ID, &f.bench, &slot, &due, &f.Cause, &f.Attempt, &hold, &f.Strength, &started, &ended, &f.Outcome, &f.Reason,
		&fill, &stood, &fall, &run, (*float64)(&f.Litres), &f.Counted, &f.Unrecorded, &f.Watched, &f.Intended)
	if err != nil {
		return f, err
	}
	f.Outcome = controller.OnRecord(f.Outcome, f.Reason)
	f.Due, f.Started, f.Ended = time.UnixMilli(due).UTC(), timeOf(started), timeOf(ended)
	f.Hold, f.Fill, f.Stood, f.Fall, f.Run = millis(hold), millis(fill), millis(stood), millis(fall), millis(run)
	if f.HasSlot = slot.Valid; f.HasSlot {
		f.Slot, err = schedule.ParseCivil(slot.String)
	}
	return f, err
}

// unfinished reads the floods that are open by their row or by cp, which may
// be nil.
func unfinished(db *sql.DB, cp *checkpoint) ([]flood, error) {
	ids := []int64{}
	if cp != nil {
		for _, f := range cp.Controller.Open {
			ids = append(ids, f.ID)
		}
	}
	list, err := json.Marshal(ids)
	if err != nil {
		return nil, err
	}
	rows, err := db.Query("SELECT "+floodColumns+" FROM floods WHERE outcome IS NULL OR id IN (SELECT value FROM json_each(?)) ORDER BY id", string(list))
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	var open []flood
	for rows.Next() {
		f, err := scanFlood(rows)
		if err != nil {
			return nil, err
		}
		open = append(open, f)
	}
	return open, rows.Err()
}

func timeOf(ms sql.NullInt64) time.Time {
	if !ms.Valid {
		return time.Time{}
	}
	return time.UnixMilli(ms.Int64).UTC()
}

func millis(n int64) time.Duration { return time.Duration(n) * time.Millisecond }

func when(ms int64, zone *time.Location) When { return When{time.UnixMilli(ms).In(zone)} }

// Floods returns floods by the time they were due. Those that are not on
// storage yet are among them; after an error they may be all there is.
func (l *Ledger) Floods(ctx context.Context, q Query) ([]controller.Row, error) {
	found, err := l.floods(ctx, q)
	rows := make([]controller.Row, 0, len(found))
	for _, f := range found {
		rows = append(rows, f.shown(l.zone))
	}
	return rows, err
}

func (l *Ledger) floods(ctx context.Context, q Query) ([]flood, error) {
	var all []flood
	var failed error
	for f, err := range l.eachFlood(ctx, q) {
		if err != nil {
			failed = err
			continue
		}
		all = append(all, f)
	}
	slices.SortFunc(all, func(a, b flood) int {
		return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.ID, b.ID))
	})
	if q.Limit > 0 && len(all) > q.Limit {
		all = all[len(all)-q.Limit:]
	}
	return all, failed
}

// eachFlood yields the floods of a query, each in its newest state: those on
// storage as read does, then those that only memory knows, whether or not
// storage could be read.
func (l *Ledger) eachFlood(ctx context.Context, q Query) iter.Seq2[flood, error] {
	return func(yield func(flood, error) bool) {
		memory := l.inMemory(q)
		for f, err := range read(ctx, l, &floods, q) {
			if newer, ok := memory[f.ID]; ok {
				f = newer
				delete(memory, f.ID)
			}
			if !yield(f, err) {
				return
			}
		}
		for _, id := range slices.Sorted(maps.Keys(memory)) {
			if !yield(memory[id], nil) {
				return
			}
		}
	}
}

// inMemory returns the floods of a query that wait to be written.
func (l *Ledger) inMemory(q Query) map[int64]flood {
	l.mu.Lock()
	defer l.mu.Unlock()
	found := make(map[int64]flood)
	for _, b := range []*batch{l.going, &l.next} {
		if b == nil {
			continue
		}
		for id, f := range b.floods {
			if (q.Bench == "" || q.Bench == f.bench) && !f.Due.Before(q.Since) {
				found[id] = f
			}
		}
	}
	return found
}

func (f flood) shown(zone *time.Location) controller.Row {
	f.Bench = 0
	return controller.RowOf(f.Flood, []string{f.bench}, zone)
}

// Day is what happened on one local day.
type Day struct {
	Date   string                     `json:"date"`
	Floods map[controller.Outcome]int `json:"floods"` // by outcome, of those due that day
	Litres safety.Litres              `json:"litres"` // pumped, to a tenth; see controller.Flood.Pumped
	RunS   map[string]float64         `json:"run_s"`  // by output; of all benches
}

// Days sums the ledger up by local day, oldest first, for the days that have
// something.
func (l *Ledger) Days(ctx context.Context, q Query) ([]Day, error) {
	found, err := l.floods(ctx, q)
	if err != nil {
		return nil, err
	}
	ran, err := list(ctx, l, &outputs, Query{Since: q.Since})
	if err != nil {
		return nil, err
	}
	days := make(map[string]*Day)
	of := func(date string) *Day {
		if days[date] == nil {
			days[date] = &Day{Date: date, Floods: map[controller.Outcome]int{}, RunS: map[string]float64{}}
		}
		return days[date]
	}
	for _, f := range found {
		d := of(schedule.CivilIn(f.Due, l.zone).Date().String())
		d.Litres += f.Pumped()
		if !f.Open() {
			d.Floods[f.Outcome]++
		}
	}
	for _, o := range ran {
		of(o.Date).RunS[o.Output] = o.RunS
	}
	all := make([]Day, 0, len(days))
	for _, date := range slices.Sorted(maps.Keys(days)) {
		d := *days[date]
		d.Litres = safety.Litres(math.Round(float64(d.Litres)*10) / 10)
		all = append(all, d)
	}
	return all, nil
}
