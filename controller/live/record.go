package live

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/safety"
)

// Ledger is what the site needs of storage. Stats does not wait for it; all
// else may take as long as storage does.
type Ledger interface {
	Stats() ledger.Stats
	Floods(context.Context, ledger.Query) ([]controller.Row, error)
	Trips(context.Context, ledger.Query) ([]ledger.Trip, error)
	Days(context.Context, ledger.Query) ([]ledger.Day, error)
	Diary(context.Context, ledger.Query) ([]ledger.Diary, error)
	Weighings(context.Context, ledger.Query) ([]ledger.Weighing, error)
	Add(context.Context, ledger.Entry) error
	Export(ctx context.Context, w io.Writer, table string, f ledger.Format, q ledger.Query) error
	Backup(ctx context.Context, path string) error
}

// Record is what is kept of a site, read from storage for each who asks.
type Record struct {
	site   *config.Site
	ledger Ledger
	dir    string // for the copy of a backup on its way out
	zone   *time.Location
	counts func(Note)          // has the controller count the water of an entry
	wrote  func(Note)          // told of each entry of the diary
	asks   func(Note) []string // what there is to ask before one is kept; may be nil
	copies chan struct{}       // one backup at a time, so that they do not fill storage
}

// Floods are the rows of the ledger.
func (r *Record) Floods(ctx context.Context, q Query) ([]controller.Row, error) {
	return r.ledger.Floods(ctx, q)
}

// Trips are what the guard did.
func (r *Record) Trips(ctx context.Context, q Query) ([]Trip, error) {
	rows, err := r.ledger.Trips(ctx, q)
	all := []Trip{}
	for _, t := range rows {
		trip := Trip{At: r.stamp(t.At), Bench: t.Bench, Interlock: t.Interlock, Words: controller.WordingOf(safety.Interlock(t.Interlock), t.Detail).Words, Act: t.Act, Latched: t.Latched, Detail: t.Detail, Times: t.Times, Last: r.stamp(t.Last)}
		if t.Act != "reset" {
			trip.Remedy = controller.Remedy(safety.Interlock(t.Interlock), t.Detail)
		}
		all = append(all, trip)
	}
	return all, err
}

// Days sum each day up.
func (r *Record) Days(ctx context.Context, q Query) ([]Day, error) {
	return r.ledger.Days(ctx, q)
}

// Diary is what people wrote down.
func (r *Record) Diary(ctx context.Context, q Query) ([]DiaryEntry, error) {
	rows, err := r.ledger.Diary(ctx, q)
	all := []DiaryEntry{}
	for _, d := range rows {
		all = append(all, DiaryEntry{At: r.stamp(d.At), Place: d.Place, Kind: string(d.Kind), Value: d.Value, Unit: d.Unit, Text: d.Text})
	}
	return all, err
}

func (r *Record) stamp(w ledger.When) string { return controller.Stamp(w.Time, r.zone) }

// AddDiary keeps a note; what is wrong with it is an Invalid, and what is hard to
// believe a Refused with questions.
func (r *Record) AddDiary(ctx context.Context, n Note) error {
	n, err := placed(r.site, n)
	if err != nil {
		return err
	}
	d := ledger.Diary{At: ledger.When{Time: n.At}, Place: n.Place, Kind: ledger.DiaryKind(n.Kind), Value: n.Value, Text: n.Text}
	if err := d.Check(); err != nil {
		return Invalid{Reason: err.Error()}
	}
	if err := r.believed(ctx, n); err != nil {
		return err
	}
	// Its water counts first, so that entry and count go to storage together and
	// no end of the program parts them. Storage that takes its time has the entry
	// in memory until then, and all that hangs on it holds.
	r.counts(n)
	ctx, cancel := context.WithTimeout(ctx, ledger.Grace)
	defer cancel()
	err = r.ledger.Add(ctx, d)
	r.wrote(n)
	return err
}

// Export writes the rows of a table; an unknown table or format is an Invalid,
// before anything is written.
func (r *Record) Export(ctx context.Context, w io.Writer, table, format string, q Query) error {
	switch {
	case !slices.Contains(ledger.Tables(), table):
		return Invalid{Reason: fmt.Sprintf("table: there is no %q; there are %s", table, strings.Join(ledger.Tables(), ", "))}
	case format != string(ledger.CSV) && format != string(ledger.Lines):
		return Invalid{Reason: fmt.Sprintf("format: %q: write %s or %s", format, ledger.CSV, ledger.Lines)}
	}
	return r.ledger.Export(ctx, w, table, ledger.Format(format), q)
}

// Backup makes the copy beside the ledger, where there is a right to write,
// and passes it on from there.
func (r *Record) Backup(ctx context.Context, w io.Writer) (err error) {
	select {
	case r.copies <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-r.copies }()
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
