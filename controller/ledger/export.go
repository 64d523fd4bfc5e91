package ledger

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"maps"
	"reflect"
	"slices"
	"strings"

	"benchtide/controller"
)

// Format is a text form of rows.
type Format string

// The formats of an export.
const (
	CSV   Format = "csv"
	Lines Format = "jsonl" // one JSON object a line
)

// export is a table that can be exported: a row's shape, and the rows.
type export struct {
	shape any
	rows  func(context.Context, *Ledger, Query) iter.Seq2[any, error]
}

var exports = map[string]export{
	"floods":        {controller.Row{}, exportFloods},
	"trips":         exportOf(&trips),
	"diary":         exportOf(&diary),
	"pauses":        exportOf(&pauses),
	"proof-tests":   exportOf(&proofTests),
	"commissioning": exportOf(&commissioning),
	"stages":        exportOf(&stages),
	"weighings":     exportOf(&weighings),
	"settings":      exportOf(&settings),
	"events":        exportOf(&details),
	"outputs":       exportOf(&outputs),
}

func exportOf[T any](s *selection[T]) export {
	var shape T
	return export{shape, func(ctx context.Context, l *Ledger, q Query) iter.Seq2[any, error] {
		return func(yield func(any, error) bool) {
			for v, err := range read(ctx, l, s, q) {
				if !yield(v, err) {
					return
				}
			}
		}
	}}
}

func exportFloods(ctx context.Context, l *Ledger, q Query) iter.Seq2[any, error] {
	return func(yield func(any, error) bool) {
		for f, err := range l.eachFlood(ctx, q) {
			if err != nil {
				yield(nil, err)
				return
			}
			if !yield(f.shown(l.zone), nil) {
				return
			}
		}
	}
}

// Tables lists what Export can write.
func Tables() []string { return slices.Sorted(maps.Keys(exports)) }

// Export writes the rows of a table, oldest first. Times are local with their
// offset, quantities in the units of their names. A limit does not apply.
func (l *Ledger) Export(ctx context.Context, w io.Writer, table string, f Format, q Query) error {
	e, ok := exports[table]
	if !ok {
		return fmt.Errorf("export %q: no such table; there are %s", table, strings.Join(Tables(), ", "))
	}
	q.Limit = 0
	switch f {
	case CSV:
		return writeCSV(w, e.shape, e.rows(ctx, l, q))
	case Lines:
		return writeLines(w, e.rows(ctx, l, q))
	}
	return fmt.Errorf("export as %q: the formats are %s and %s", f, CSV, Lines)
}

func writeLines(w io.Writer, rows iter.Seq2[any, error]) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	for row, err := range rows {
		if err != nil {
			return err
		}
		if err := enc.Encode(row); err != nil {
			return fmt.Errorf("export: %w", err)
		}
	}
	return nil
}

// writeCSV writes the same names and values as JSON, an absent value as an
// empty cell.
func writeCSV(w io.Writer, shape any, rows iter.Seq2[any, error]) error {
	out := csv.NewWriter(w)
	_ = out.Write(header(shape)) // out.Error tells below
	for row, err := range rows {
		if err != nil {
			return err
		}
		cells, err := cellsOf(row)
		if err != nil {
			return err
		}
		_ = out.Write(cells)
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}

func header(shape any) []string {
	t := reflect.TypeOf(shape)
	var names []string
	for i := range t.NumField() {
		names = append(names, t.Field(i).Tag.Get("json"))
	}
	return names
}

func cellsOf(row any) ([]string, error) {
	v := reflect.ValueOf(row)
	var cells []string
	for i := range v.NumField() {
		data, err := json.Marshal(v.Field(i).Interface())
		if err != nil {
			return nil, fmt.Errorf("export: %w", err)
		}
		cells = append(cells, cell(data))
	}
	return cells, nil
}

// cell is a JSON value as a spreadsheet reads it.
func cell(data []byte) string {
	var text string
	if json.Unmarshal(data, &text) == nil { // also null, as nothing
		return text
	}
	return string(data)
}
