package ledger

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"reflect"
	"time"
)

// byNumber is the order of recording.
const byNumber = "id"

// fieldsOf reads a row into the fields of a T, whose columns stand in their order.
func fieldsOf[T any](rows *sql.Rows, zone *time.Location) (v T, err error) {
	fields := reflect.ValueOf(&v).Elem()
	into := make([]any, fields.NumField())
	for i := range into {
		switch f := fields.Field(i).Addr().Interface().(type) {
		case *When:
			into[i] = whenIn{f, zone}
		case *json.RawMessage:
			into[i] = (*[]byte)(f)
		default:
			into[i] = f
		}
	}
	err = rows.Scan(into...)
	return v, err
}

// whenIn reads an instant in a zone.
type whenIn struct {
	to   *When
	zone *time.Location
}

// Scan reads milliseconds of Unix time.
func (w whenIn) Scan(ms any) error {
	n, ok := ms.(int64)
	if !ok {
		return fmt.Errorf("%v is no time", ms)
	}
	*w.to = when(n, w.zone)
	return nil
}

var (
	trips         = selection[Trip]{"at, coalesce(bench, ''), interlock, act, latched, detail, times, coalesce(last, at)", "trips", "bench", "coalesce(last, at)", byNumber, fieldsOf[Trip]}
	diary         = selection[Diary]{"at, place, kind, value, unit, text", "diary", "place", "at", "at, id", fieldsOf[Diary]}
	pauses        = selection[Pause]{"at, coalesce(bench, ''), began, text", "pauses", "bench", "at", byNumber, fieldsOf[Pause]}
	proofTests    = selection[ProofTest]{"at, coalesce(place, ''), switch, level", "proof_tests", "place", "at", byNumber, fieldsOf[ProofTest]}
	commissioning = selection[Commissioning]{"at, what, place, fingerprint, data", "commissioning", "place", "at", byNumber, fieldsOf[Commissioning]}
	stages        = selection[Stage]{"at, batch, stage, text", "stages", "batch", "at", byNumber, fieldsOf[Stage]}
	weighings     = selection[Weighing]{"at, reservoir, bench, flood, litres, give, noted, came, gone", "weighings", "reservoir", "at", byNumber, fieldsOf[Weighing]}
	settings      = selection[Settings]{"at, fingerprint, diff", "settings", "", "at", byNumber, fieldsOf[Settings]}
	details       = selection[Detail]{"at, kind, coalesce(place, ''), coalesce(flood, 0), text", "events", "place", "at", byNumber, fieldsOf[Detail]}
)

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
