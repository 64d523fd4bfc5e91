package ledger

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strconv"
)

// A copy of the outbox lies beside the ledger and is replaced, whole or not at
// all, when something changes that must not be lost: a message that waits, an
// alarm, what people said of it. So all of that outlasts a ledger that nobody
// can read any more, and a program that dies while the ledger takes no writes.

// copyName is the file of the copy.
const copyName = "messages.json"

// copyFormat is raised when older programs could not make sense of a copy.
const copyFormat = 1

// copiedOutbox is the copy's form.
type copiedOutbox struct {
	Format int             `json:"format"`
	Sum    string          `json:"sum"` // CRC-64 (ECMA) of Outbox
	Outbox json.RawMessage `json:"outbox"`
}

func (l *Ledger) copyPath() string { return filepath.Join(filepath.Dir(l.path), copyName) }

// knows reports whether files that name a site may be this one's.
func (l *Ledger) knows(site string) bool {
	return site == "" || l.options.Site == "" || site == l.options.Site || slices.Contains(l.options.Formerly, site)
}

// readCopy returns the copy and its revision; nil without one that is whole.
func readCopy(path string) (*foundOutbox, int64) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, 0
	}
	var c copiedOutbox
	if json.Unmarshal(data, &c) != nil || c.Format != copyFormat {
		return nil, 0
	}
	var f foundOutbox
	if c.Sum != strconv.FormatUint(sumOf(string(c.Outbox)), 16) || json.Unmarshal(c.Outbox, &f) != nil {
		return nil, 0
	}
	return &f, f.Revision
}

// copyOutbox replaces the copy where the batch brought something for it, whether
// or not the ledger took it.
func (l *Ledger) copyOutbox(b *batch) {
	p := &l.store.post
	if b.outbox == nil || !b.outbox.soon && p.copied != 0 || p.copied == p.revision {
		return
	}
	if l.store.at("copy") != nil || foreign(l.copyPath()) {
		return
	}
	state, err := json.Marshal(foundOutbox{State: *p.newest, Revision: p.revision, Taken: p.taken, Site: l.options.Site})
	if err != nil {
		return
	}
	data, err := json.Marshal(copiedOutbox{copyFormat, strconv.FormatUint(sumOf(string(state)), 16), state})
	if err == nil && replace(l.copyPath(), data) == nil {
		p.copied = p.revision
	}
}

// foreign reports whether a newer program wrote the copy, which is left alone.
func foreign(path string) bool {
	data, err := os.ReadFile(path)
	var c copiedOutbox
	return err == nil && json.Unmarshal(data, &c) == nil && c.Format > copyFormat
}

// replace puts data in place of a file, whole or not at all, and syncs it.
func replace(path string, data []byte) (err error) {
	part := path + ".new"
	defer func() {
		if err != nil {
			_ = os.Remove(part)
		}
	}()
	if err := os.WriteFile(part, data, 0o640); err != nil {
		return err
	}
	if err := errors.Join(syncFile(part), os.Rename(part, path)); err != nil {
		return err
	}
	return syncDir(path)
}
