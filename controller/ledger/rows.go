package ledger

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// insertInto is the statement that adds a row under its number, once.
func insertInto(table, columns string) string {
	marks := strings.Repeat(", ?", strings.Count(columns, ",")+1)
	return fmt.Sprintf("INSERT INTO %s (id, %s) VALUES (?%s) ON CONFLICT (id) DO NOTHING", table, columns, marks)
}

var (
	intoEvents        = insertInto("events", "at, kind, place, flood, text")
	intoTrips         = "INSERT INTO trips (id, at, bench, interlock, act, latched, detail, sum) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, " + newTripSum + ") ON CONFLICT (id) DO NOTHING"
	intoPauses        = insertInto("pauses", "at, bench, began, text")
	intoProofTests    = insertInto("proof_tests", "at, place, switch, level")
	intoCommissioning = "INSERT INTO commissioning (id, at, what, place, fingerprint, data, sum) VALUES (?1, ?2, ?3, ?4, ?5, ?6, row_sum(?1, ?2, ?3, ?4, ?5, ?6)) ON CONFLICT (id) DO NOTHING"
	intoStages        = insertInto("stages", "at, batch, stage, text")
	intoWeighings     = insertInto("weighings", "at, reservoir, bench, flood, litres, give, noted, came, gone")
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
	return row{insert: intoTrips, args: []any{at.UnixMilli(), orNull(bench), string(e.Interlock), act, e.Latched, e.Detail}}.repeats(e)
}

func pauseRow(at time.Time, bench string, began bool, text string) row {
	return row{insert: intoPauses, args: []any{at.UnixMilli(), orNull(bench), began, text}}
}

func stageRow(at time.Time, batch string, stage int, text string) row {
	return row{insert: intoStages, args: []any{at.UnixMilli(), batch, stage, text}}
}

func weighingRow(reservoir, bench string, w *controller.Weighing) row {
	var gone any
	if w.Paired {
		gone = float64(w.Gone)
	}
	return row{insert: intoWeighings, args: []any{
		w.At.UnixMilli(), reservoir, bench, w.Flood, float64(w.Litres), float64(w.Give), float64(w.Noted), float64(w.Came), gone,
	}}
}

// withdrawn makes a note of a top-up that was booked and was none.
const withdrawn = "UPDATE diary SET kind = 'note', value = NULL, unit = '', text = ?4 WHERE ?1 > 0 AND at = ?2 AND place = ?3 AND kind = 'top-up'"

// bookingRow is what the diary says of water that weighings showed.
func bookingRow(reservoir string, b *controller.Booking, text string) row {
	kind, litres := TopUp, math.Round(float64(b.Litres)*10)/10
	switch {
	case b.Withdrawn:
		return row{insert: withdrawn, args: []any{b.At.UnixMilli(), reservoir, text}}
	case litres < 0:
		kind, litres = TakenOut, -litres
	}
	return row{insert: intoDiary, args: []any{b.At.UnixMilli(), reservoir, string(kind), litres, DiaryUnits[kind], text}}
}

func proofRow(at time.Time, place, name, level string) row {
	return row{insert: intoProofTests, args: []any{at.UnixMilli(), orNull(place), name, level}}
}

// Entry is something a person or a command adds to the ledger.
type Entry interface {
	// row is the entry as it is stored; an error says what is wrong with it.
	row() (row, error)
}

// Check says what is wrong with an entry of the diary.
func (d Diary) Check() error {
	_, err := d.row()
	return err
}

func (d Diary) row() (row, error) {
	unit, known := DiaryUnits[d.Kind]
	switch {
	case !known:
		return row{}, fmt.Errorf("add to the diary: %q is no kind of entry; there are %s", d.Kind, diaryKinds())
	case d.Value == nil && unit != "" && d.Kind != SolutionChange:
		return row{}, fmt.Errorf("add to the diary: %s needs a value in %s", d.Kind, unit)
	case d.Value != nil && unit == "":
		return row{}, fmt.Errorf("add to the diary: %s takes no value; write it in words", d.Kind)
	}
	var value any
	if d.Value != nil {
		value = *d.Value
	}
	return row{insert: intoDiary, args: []any{d.At.UnixMilli(), d.Place, string(d.Kind), value, unit, d.Text}}, nil
}

func diaryKinds() string {
	var all []string
	for _, k := range slices.Sorted(maps.Keys(DiaryUnits)) {
		all = append(all, string(k))
	}
	return strings.Join(all, ", ")
}

func (c Commissioning) row() (row, error) {
	if !json.Valid(c.Data) {
		return row{}, fmt.Errorf("record the %s of %q: its data is no JSON", c.What, c.Place)
	}
	return row{insert: intoCommissioning, args: []any{c.At.UnixMilli(), c.What, c.Place, c.Fingerprint, string(c.Data)}}, nil
}

func (s Stage) row() (row, error) {
	return stageRow(s.At.Time, s.Batch, s.Stage, s.Text), nil
}

func (s Settings) row() (row, error) {
	return row{insert: intoSettings, args: []any{s.At.UnixMilli(), s.Fingerprint, s.Diff}}, nil
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
