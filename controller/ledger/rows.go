package ledger

import (
	"fmt"
	"strings"
	"time"

	"benchtide/safety"
)

// insertInto is the statement that adds a row under its number, once.
func insertInto(table, columns string) string {
	marks := strings.Repeat(", ?", strings.Count(columns, ",")+1)
	return fmt.Sprintf("INSERT INTO %s (id, %s) VALUES (?%s) ON CONFLICT (id) DO NOTHING", table, columns, marks)
}

var (
	intoEvents        = insertInto("events", "at, kind, place, flood, text")
	intoTrips         = insertInto("trips", "at, bench, interlock, act, latched, detail")
	intoPauses        = insertInto("pauses", "at, bench, began, text")
	intoProofTests    = insertInto("proof_tests", "at, place, switch, level")
	intoCommissioning = insertInto("commissioning", "at, what, place, fingerprint, data")
	intoStages        = insertInto("stages", "at, batch, stage, text")
	intoDiary         = insertInto("diary", "at, place, kind, value, unit, text")
	intoSettings      = insertInto("settings", "at, fingerprint, diff")
)

func eventRow(at time.Time, kind, place string, flood int64, text string) row {
	var id any
	if flood != 0 {
		id = flood
	}
	return row{insert: intoEvents, args: []any{at.UnixMilli(), kind, orNull(place), id, text}, detail: true}
}

func tripRow(at time.Time, bench string, e *safety.Event, act string) row {
	return row{insert: intoTrips, args: []any{at.UnixMilli(), orNull(bench), string(e.Interlock), act, e.Latched, e.Detail}}
}

func pauseRow(at time.Time, bench string, began bool, text string) row {
	return row{insert: intoPauses, args: []any{at.UnixMilli(), orNull(bench), began, text}}
}

func proofRow(at time.Time, place, name, level string) row {
	return row{insert: intoProofTests, args: []any{at.UnixMilli(), orNull(place), name, level}}
}

// Entry is something a person or a command adds to the ledger.
type Entry interface{ row() row }

func (d Diary) row() row {
	var value any
	if d.Value != nil {
		value = *d.Value
	}
	return row{insert: intoDiary, args: []any{d.At.UnixMilli(), d.Place, string(d.Kind), value, d.Unit, d.Text}}
}

func (c Commissioning) row() row {
	return row{insert: intoCommissioning, args: []any{c.At.UnixMilli(), c.What, c.Place, c.Fingerprint, string(c.Data)}}
}

func (s Stage) row() row {
	return row{insert: intoStages, args: []any{s.At.UnixMilli(), s.Batch, s.Stage, s.Text}}
}

func (s Settings) row() row {
	return row{insert: intoSettings, args: []any{s.At.UnixMilli(), s.Fingerprint, s.Diff}}
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// instant is NULL for the zero time.
func instant(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixMilli()
}

// span is NULL for no duration.
func span(d time.Duration) any {
	if d == 0 {
		return nil
	}
	return d.Milliseconds()
}
