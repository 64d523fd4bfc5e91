package ledger

import (
	"cmp"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"benchtide/controller/loop"
)

// SettingsName is the version of the site's file that was in force last, beside
// the ledger.
const SettingsName = "settings.yaml"

// fresh reports whether nothing in the directory says that there was a record
// before.
func (l *Ledger) fresh() bool {
	dir := filepath.Dir(l.path)
	aside, err := filepath.Glob(filepath.Join(dir, "ledger-damaged-*"))
	return err == nil && len(aside) == 0 && !there(l.path) && !there(l.path+beside[0]) && !there(l.copier.path) && !there(filepath.Join(dir, SettingsName))
}

// born is the checkpoint of a record that begins: a ledger that has none was
// damaged.
func (l *Ledger) born() *checkpoint {
	return &checkpoint{Checkpoint: &loop.Checkpoint{}, stamp: l.stamp, benches: l.names.benches}
}

// newRecord is the identity of a new record.
func newRecord() string {
	id := make([]byte, 8)
	_, _ = rand.Read(id) // never fails
	return hex.EncodeToString(id)
}

// ours reports whether a witness is of the site whose file is in force.
func (l *Ledger) ours(w *witness) bool {
	site := l.options.Site
	return site == "" || w.head == nil || w.head.Site == "" || w.head.Site == site || slices.Contains(l.options.Formerly, w.head.Site)
}

// own puts the files of other sites out of the way, and leaves of the witnesses
// those of this one.
func (l *Ledger) own(kept, copied *witness, trouble error) (*witness, *witness, []string, error) {
	var found []string
	tell := func(w *witness, to string) {
		found = append(found, fmt.Sprintf("%s is of the site %q, not of %q, and was set aside as %s.", sentence(w.what), w.head.Site, l.options.Site, to))
	}
	if !l.ours(copied) {
		if to, err := putAway(l.copier.path, l.store.now()); err == nil {
			tell(copied, to)
		} else {
			trouble = errors.Join(trouble, err)
		}
		copied = &witness{what: copyText, there: true, fault: fmt.Errorf("it is of another site")}
	}
	if !l.ours(kept) {
		l.store.close()
		to, err := setAside(l.path, l.store.now())
		if err == nil {
			tell(kept, to)
			l.store.found, l.store.stored, l.store.number = nil, nil, 0
			l.store.post.foreign = true
			l.store.aside, l.store.ailment = to, fmt.Errorf("it is of the site %q", kept.head.Site)
			err = l.store.ready()
		}
		trouble = errors.Join(trouble, err)
		kept = &witness{what: ledgerText, there: true, fault: fmt.Errorf("it is of another site")}
	}
	return kept, copied, found, trouble
}

// weigh makes of the witnesses the checkpoint that the program goes on from;
// nil at the very first start.
func (l *Ledger) weigh(kept, copied *witness) *checkpoint {
	l.commissioned = kept.commissioned
	if len(copied.commissioned) >= len(kept.commissioned) && (!kept.commissionedWhole() || copied.asNewAs(kept)) {
		l.commissioned = copied.commissioned
	}
	if l.store.birth != nil || kept.blank && !copied.there {
		return nil
	}
	cp := merge(kept, copied, l.names.benches)
	l.stamp.Seq = cp.Seq
	l.stamp.Record = cmp.Or(cp.Record, l.stamp.Record)
	cp.stamp = l.stamp
	return cp
}

// commissionedWhole reports whether the witness, a ledger, has all that
// commissioning found: one without a head may have been begun anew.
func (w *witness) commissionedWhole() bool {
	return w.there && w.fault == nil && w.head != nil && w.spoilt["commissioning"] == 0
}

// asNewAs reports whether the witness is of the same record as another one, and
// not older.
func (w *witness) asNewAs(o *witness) bool {
	return w.head != nil && o.head != nil && w.head.Record == o.head.Record && w.head.Seq >= o.head.Seq
}

// differences says what of the record is not as it was left.
func differences(kept, copied *witness) (found []string) {
	for _, w := range []*witness{kept, copied} {
		before := w == copied && (kept.old || kept.begun) // there was no copy yet
		if ill := w.ailment(); ill != "" && !(before && !w.there) && !w.begun && !w.blank {
			found = append(found, sentence(ill)+".")
		}
	}
	if k, c := kept.head, copied.head; k != nil && c != nil {
		switch {
		case k.Record != c.Record:
			found = append(found, "The ledger and the copy of the guard's state are of two records: what either of them has locked stays locked.")
		case k.Seq < c.Seq:
			found = append(found, "The ledger is older than the copy of the guard's state: its latest rows are missing.")
		}
	}
	return found
}

// mend brings both files to what the program goes on from, where they are not.
func (l *Ledger) mend(cp *checkpoint, kept, copied *witness) error {
	if cp == nil {
		cp = l.born()
	}
	l.held = cp
	parts, err := cp.parts()
	if err != nil {
		return err
	}
	l.store.newest = parts
	said := grave(cp)
	if err == nil && (kept.ailment() != "" || kept.blank || len(kept.commissioned) != len(l.commissioned) || grave(merge(kept, &witness{}, l.names.benches)) != said) {
		err = errors.Join(l.store.restore(l.commissioned, kept), l.store.write(&batch{}))
	}
	l.copier.entries = -1
	if copied.ailment() == "" && len(copied.commissioned) == len(l.commissioned) && grave(merge(&witness{}, copied, l.names.benches)) == said {
		l.copier.held, l.copier.entries = said, len(l.commissioned)
		l.copier.file, _ = os.Stat(l.copier.path)
	}
	l.stats.Copy = l.copier.keep(cp, l.commissioned, false)
	if err == nil {
		l.store.fold(l.copier.now)
	}
	return err
}

// restore takes the rows that fail their checksum out of a file, and puts what
// commissioning found back where that was lost.
func (s *store) restore(entries []Commissioning, kept *witness) error {
	if s.db == nil {
		return nil
	}
	tx, err := s.db.Begin()
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	for table := range kept.spoilt {
		if _, err := tx.Exec("DELETE FROM " + damagedRows(table)); err != nil {
			return err
		}
	}
	if !kept.commissionedWhole() || len(kept.commissioned) != len(entries) {
		if _, err := tx.Exec("DELETE FROM commissioning"); err != nil {
			return err
		}
		for _, e := range entries {
			r, err := e.row()
			if err != nil {
				return err
			}
			s.number++
			if _, err := tx.Exec(r.insert, append([]any{s.number}, r.args...)...); err != nil {
				return err
			}
		}
	}
	return tx.Commit()
}

// putAway renames a file of another site and returns its new name.
func putAway(path string, now time.Time) (string, error) {
	end := filepath.Ext(path)
	stem := strings.TrimSuffix(path, end) + "-other-" + now.UTC().Format("20060102T150405Z")
	to := stem + end
	for n := 2; exists(to); n++ {
		to = fmt.Sprintf("%s-%d%s", stem, n, end)
	}
	if err := os.Rename(path, to); err != nil {
		return "", err
	}
	return to, syncDir(path)
}
