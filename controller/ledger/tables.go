package ledger

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"
)

// byNumber is the order of recording.
const byNumber = "id"

var trips = selection[Trip]{
	columns: "at, coalesce(bench, ''), interlock, act, latched, detail", from: "trips", place: "bench", at: "at", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (t Trip, err error) {
		var at int64
		err = rows.Scan(&at, &t.Bench, &t.Interlock, &t.Act, &t.Latched, &t.Detail)
		t.At = when(at, zone)
		return t, err
	},
}

var diary = selection[Diary]{
	columns: "at, place, kind, value, unit, text", from: "diary", place: "place", at: "at", order: "at, id",
	scan: func(rows *sql.Rows, zone *time.Location) (d Diary, err error) {
		var at int64
		err = rows.Scan(&at, &d.Place, &d.Kind, &d.Value, &d.Unit, &d.Text)
		d.At = when(at, zone)
		return d, err
	},
}

var pauses = selection[Pause]{
	columns: "at, coalesce(bench, ''), began, text", from: "pauses", place: "bench", at: "at", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (p Pause, err error) {
		var at int64
		err = rows.Scan(&at, &p.Bench, &p.Began, &p.Text)
		p.At = when(at, zone)
		return p, err
	},
}

var proofTests = selection[ProofTest]{
	columns: "at, coalesce(place, ''), switch, level", from: "proof_tests", place: "place", at: "at", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (p ProofTest, err error) {
		var at int64
		err = rows.Scan(&at, &p.Place, &p.Switch, &p.Level)
		p.At = when(at, zone)
		return p, err
	},
}

var commissioning = selection[Commissioning]{
	columns: "at, what, place, fingerprint, data", from: "commissioning", place: "place", at: "at", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (c Commissioning, err error) {
		var at int64
		var data string
		err = rows.Scan(&at, &c.What, &c.Place, &c.Fingerprint, &data)
		c.At, c.Data = when(at, zone), json.RawMessage(data)
		return c, err
	},
}

var stages = selection[Stage]{
	columns: "at, batch, stage, text", from: "stages", place: "batch", at: "at", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (s Stage, err error) {
		var at int64
		err = rows.Scan(&at, &s.Batch, &s.Stage, &s.Text)
		s.At = when(at, zone)
		return s, err
	},
}

var settings = selection[Settings]{
	columns: "at, fingerprint, diff", from: "settings", at: "at", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (s Settings, err error) {
		var at int64
		err = rows.Scan(&at, &s.Fingerprint, &s.Diff)
		s.At = when(at, zone)
		return s, err
	},
}

var details = selection[Detail]{
	columns: "at, kind, coalesce(place, ''), coalesce(flood, 0), text", from: "events", place: "place", at: "at", order: byNumber,
	scan: func(rows *sql.Rows, zone *time.Location) (d Detail, err error) {
		var at int64
		err = rows.Scan(&at, &d.Kind, &d.Place, &d.Flood, &d.Text)
		d.At = when(at, zone)
		return d, err
	},
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

// Pauses returns the beginnings and ends of pauses, in order of recording.
func (l *Ledger) Pauses(ctx context.Context, q Query) ([]Pause, error) {
	return list(ctx, l, &pauses, q)
}

// ProofTests returns the changes of switches under test, in order of recording.
func (l *Ledger) ProofTests(ctx context.Context, q Query) ([]ProofTest, error) {
	return list(ctx, l, &proofTests, q)
}

// Commissioning returns what was checked and calibrated, in order of recording.
func (l *Ledger) Commissioning(ctx context.Context, q Query) ([]Commissioning, error) {
	return list(ctx, l, &commissioning, q)
}

// Stages returns the passages of batches into their stages; Query.Bench names
// a batch.
func (l *Ledger) Stages(ctx context.Context, q Query) ([]Stage, error) {
	return list(ctx, l, &stages, q)
}

// Settings returns the versions of the file, in order of recording.
func (l *Ledger) Settings(ctx context.Context, q Query) ([]Settings, error) {
	return list(ctx, l, &settings, q)
}

// Details returns the events of recent days, in order of recording.
func (l *Ledger) Details(ctx context.Context, q Query) ([]Detail, error) {
	return list(ctx, l, &details, q)
}

// Outputs returns run times by local day; Query.Bench names an output.
func (l *Ledger) Outputs(ctx context.Context, q Query) ([]Output, error) {
	return list(ctx, l, &outputs, q)
}
