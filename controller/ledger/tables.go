package ledger

import (
	"context"
	"database/sql"
	"time"
)

// byNumber is the order of recording.
const byNumber = "id"

// dated is how a row is read whose first column is its time: into fields, the
// addresses of the others in the order of the columns.
func dated[T any](at func(*T) *When, fields func(*T) []any) func(*sql.Rows, *time.Location) (T, error) {
	return func(rows *sql.Rows, zone *time.Location) (v T, err error) {
		var ms int64
		err = rows.Scan(append([]any{&ms}, fields(&v)...)...)
		*at(&v) = when(ms, zone)
		return v, err
	}
}

var trips = selection[Trip]{
	columns: "at, coalesce(bench, ''), interlock, act, latched, detail, times, coalesce(last, at)", from: "trips", place: "bench", at: "coalesce(last, at)", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (t Trip, err error) {
		var at, last int64
		err = rows.Scan(&at, &t.Bench, &t.Interlock, &t.Act, &t.Latched, &t.Detail, &t.Times, &last)
		t.At, t.Last = when(at, zone), when(last, zone)
		return t, err
	},
}

var diary = selection[Diary]{
	columns: "at, place, kind, value, unit, text", from: "diary", place: "place", at: "at", order: "at, id",
	scan: dated(func(d *Diary) *When { return &d.At }, func(d *Diary) []any {
		return []any{&d.Place, &d.Kind, &d.Value, &d.Unit, &d.Text}
	}),
}

var pauses = selection[Pause]{
	columns: "at, coalesce(bench, ''), began, text", from: "pauses", place: "bench", at: "at", order: byNumber,
	scan: dated(func(p *Pause) *When { return &p.At }, func(p *Pause) []any {
		return []any{&p.Bench, &p.Began, &p.Text}
	}),
}

var proofTests = selection[ProofTest]{
	columns: "at, coalesce(place, ''), switch, level", from: "proof_tests", place: "place", at: "at", order: byNumber,
	scan: dated(func(p *ProofTest) *When { return &p.At }, func(p *ProofTest) []any {
		return []any{&p.Place, &p.Switch, &p.Level}
	}),
}

var commissioning = selection[Commissioning]{
	columns: "at, what, place, fingerprint, data", from: "commissioning", place: "place", at: "at", order: byNumber,
	scan: dated(func(c *Commissioning) *When { return &c.At }, func(c *Commissioning) []any {
		return []any{&c.What, &c.Place, &c.Fingerprint, (*[]byte)(&c.Data)}
	}),
}

var stages = selection[Stage]{
	columns: "at, batch, stage, text", from: "stages", place: "batch", at: "at", order: byNumber,
	scan: dated(func(s *Stage) *When { return &s.At }, func(s *Stage) []any {
		return []any{&s.Batch, &s.Stage, &s.Text}
	}),
}

var weighings = selection[Weighing]{
	columns: "at, reservoir, bench, flood, litres, give, noted, came, gone", from: "weighings", place: "reservoir", at: "at", order: byNumber,
	scan: dated(func(w *Weighing) *When { return &w.At }, func(w *Weighing) []any {
		return []any{&w.Reservoir, &w.Bench, &w.Flood, &w.Litres, &w.Give, &w.Noted, &w.Came, &w.Gone}
	}),
}

var settings = selection[Settings]{
	columns: "at, fingerprint, diff", from: "settings", at: "at", order: byNumber,
	scan: dated(func(s *Settings) *When { return &s.At }, func(s *Settings) []any {
		return []any{&s.Fingerprint, &s.Diff}
	}),
}

var details = selection[Detail]{
	columns: "at, kind, coalesce(place, ''), coalesce(flood, 0), text", from: "events", place: "place", at: "at", order: byNumber,
	scan: dated(func(d *Detail) *When { return &d.At }, func(d *Detail) []any {
		return []any{&d.Kind, &d.Place, &d.Flood, &d.Text}
	}),
}

var outputs = selection[Output]{
	columns: "date, output, run, starts", from: "outputs", place: "output", at: "unixepoch(date, '+1 day') * 1000", order: "date, output",
	scan: func(rows *sql.Rows, _ *time.Location) (o Output, err error) {
		var ms int64
		err = rows.Scan(&o.Date, &o.Output, &ms, &o.Starts)
		o.RunS = millis(ms).Seconds()
		return o, err
	},
}

// Trips returns what the guard did and the resets, in order of recording.
func (l *Ledger) Trips(ctx context.Context, q Query) ([]Trip, error) { return list(ctx, l, &trips, q) }

// Diary returns the diary by the time its entries are about.
func (l *Ledger) Diary(ctx context.Context, q Query) ([]Diary, error) { return list(ctx, l, &diary, q) }

// Commissioning returns what was checked and calibrated, in order of recording.
func (l *Ledger) Commissioning(ctx context.Context, q Query) ([]Commissioning, error) {
	return list(ctx, l, &commissioning, q)
}

// Weighings returns what reservoirs held, in order of recording; Query.Bench
// names a reservoir.
func (l *Ledger) Weighings(ctx context.Context, q Query) ([]Weighing, error) {
	return list(ctx, l, &weighings, q)
}

// Stages returns the passages of batches into their stages; Query.Bench names
// a batch.
func (l *Ledger) Stages(ctx context.Context, q Query) ([]Stage, error) {
	return list(ctx, l, &stages, q)
}
