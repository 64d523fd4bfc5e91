package ledger

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// probeEvery is how often storage is looked at between writes, which may be an
// hour apart. To look writes nothing, so that it wears nothing.
const probeEvery = 20 * time.Second

// probe looks whether the files are still there and storage would take a write.
// What is gone is written anew at once; what stands in the way is told as the
// trouble of storage, until it is gone or a write tells more.
func (l *Ledger) probe() {
	trouble := l.reachable()
	if trouble == nil {
		l.replaceMissing()
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case trouble != nil && l.stats.Trouble == nil:
		l.stats.Trouble, l.probed = trouble, true
	case trouble == nil && l.probed:
		l.stats.Trouble, l.probed = nil, false
	}
}

// reachable says what would keep a write from the directory; nil when nothing
// would.
func (l *Ledger) reachable() error {
	if err := l.store.at("probe"); err != nil {
		return err
	}
	return l.inPlace()
}

// told is why a write failed or nothing could be read, in the words of the
// directory where that says why.
func (l *Ledger) told(err error) error {
	if err == nil || errors.Is(err, errNewer) {
		return err
	}
	if why := l.inPlace(); why != nil {
		return fmt.Errorf("%w (%w)", why, err)
	}
	return err
}

// inPlace says what is wrong with the directory; nil when nothing is.
func (l *Ledger) inPlace() error {
	dir := filepath.Dir(l.path)
	now, err := os.Stat(dir)
	if missing(err) {
		return fmt.Errorf("the state directory %q is gone; put it back, or start the program anew", dir)
	}
	if err != nil {
		return err
	}
	if l.dir != nil && !os.SameFile(now, l.dir) {
		return fmt.Errorf("the state directory %q is not the one that the program started with; put that back, or start the program anew", dir)
	}
	return roomIn(dir)
}

// replaceMissing writes the files anew that somebody took away or exchanged.
func (l *Ledger) replaceMissing() {
	var found []string
	if l.store.db != nil && l.store.moved() {
		found = append(found, fmt.Sprintf("The ledger (%s) was taken away or exchanged while the program ran. A new one has all that the guard knows; what else was in it is not in the new one.", fileName))
		if err := l.store.write(&batch{}); err != nil {
			return // the next look tries again, and tells it then
		}
	}
	if l.store.db != nil && l.store.logMoved() {
		found = append(found, fmt.Sprintf("The log of the ledger (%s%s) was taken away or exchanged while the program ran. What it held was put into the ledger.", fileName, beside[0]))
		if err := l.store.write(&batch{}); err != nil {
			return
		}
	}
	if l.copier.moved() {
		found = append(found, sentence(copyText)+" was taken away or changed while the program ran, and was written anew.")
		l.copier.entries, l.copier.file = -1, nil
	}
	l.mu.Lock()
	entries := l.commissioned
	l.mu.Unlock()
	err := l.copier.keep(l.held, entries, false)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.stats.Copy, l.stats.Found = err, append(l.stats.Found, found...)
}
