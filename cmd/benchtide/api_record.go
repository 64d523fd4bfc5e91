package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/controller/web"
	"benchtide/safety"
)

// keptRecord shows the ledger to the API.
type keptRecord struct {
	site   *config.Site
	ledger *ledger.Ledger
	dir    string // for the copy of a backup on its way out
	zone   *time.Location
	wrote  func(web.Note) // told of each entry of the diary
	copies sync.Mutex     // one backup at a time
}

var _ web.Record = (*keptRecord)(nil)

func (r *keptRecord) Floods(ctx context.Context, q web.Query) ([]controller.Row, error) {
	return r.ledger.Floods(ctx, ledger.Query(q))
}

func (r *keptRecord) Trips(ctx context.Context, q web.Query) ([]web.Trip, error) {
	rows, err := r.ledger.Trips(ctx, ledger.Query(q))
	all := []web.Trip{}
	for _, t := range rows {
		trip := web.Trip{At: r.stamp(t.At), Bench: t.Bench, Interlock: t.Interlock, Act: t.Act, Latched: t.Latched, Detail: t.Detail, Times: t.Times, Last: r.stamp(t.Last)}
		if t.Act != "reset" {
			trip.Remedy = controller.Remedy(safety.Interlock(t.Interlock))
		}
		all = append(all, trip)
	}
	return all, err
}

func (r *keptRecord) Days(ctx context.Context, q web.Query) ([]web.Day, error) {
	rows, err := r.ledger.Days(ctx, ledger.Query(q))
	all := []web.Day{}
	for _, d := range rows {
		day := web.Day{Date: d.Date, Floods: map[string]int{}, Litres: math.Round(float64(d.Litres)*10) / 10, RunS: d.RunS}
		for outcome, n := range d.Floods {
			day.Floods[string(outcome)] = n
		}
		all = append(all, day)
	}
	return all, err
}

func (r *keptRecord) Diary(ctx context.Context, q web.Query) ([]web.DiaryEntry, error) {
	rows, err := r.ledger.Diary(ctx, ledger.Query(q))
	all := []web.DiaryEntry{}
	for _, d := range rows {
		all = append(all, web.DiaryEntry{At: r.stamp(d.At), Place: d.Place, Kind: string(d.Kind), Value: d.Value, Unit: d.Unit, Text: d.Text})
	}
	return all, err
}

func (r *keptRecord) stamp(w ledger.When) string { return controller.Stamp(w.Time, r.zone) }

func (r *keptRecord) AddDiary(ctx context.Context, n web.Note) error {
	n, err := placed(r.site, n)
	if err != nil {
		return err
	}
	d := ledger.Diary{At: ledger.When{Time: n.At}, Place: n.Place, Kind: ledger.DiaryKind(n.Kind), Value: n.Value, Text: n.Text}
	if err := d.Check(); err != nil {
		return web.Invalid{Reason: err.Error()}
	}
	if err := r.believed(ctx, n); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, storageGrace)
	defer cancel()
	if err := r.ledger.Add(ctx, d); err != nil {
		return err
	}
	r.wrote(n)
	return nil
}

func (r *keptRecord) Export(ctx context.Context, w io.Writer, table, format string, q web.Query) error {
	switch {
	case !slices.Contains(ledger.Tables(), table):
		return web.Invalid{Reason: fmt.Sprintf("table: there is no %q; there are %s", table, strings.Join(ledger.Tables(), ", "))}
	case format != string(ledger.CSV) && format != string(ledger.Lines):
		return web.Invalid{Reason: fmt.Sprintf("format: %q: write %s or %s", format, ledger.CSV, ledger.Lines)}
	}
	return r.ledger.Export(ctx, w, table, ledger.Format(format), ledger.Query(q))
}

// Backup makes the copy beside the ledger, where there is a right to write,
// and passes it on from there.
func (r *keptRecord) Backup(ctx context.Context, w io.Writer) (err error) {
	r.copies.Lock()
	defer r.copies.Unlock()
	path := filepath.Join(r.dir, "backup.tmp")
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) { // of a backup that was cut off
		return err
	}
	if err := r.ledger.Backup(ctx, path); err != nil {
		return err
	}
	defer os.Remove(path)
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = io.Copy(w, f)
	return err
}
