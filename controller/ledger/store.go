package ledger

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"os"
	"time"
)

// store writes batches to the file. It belongs to one goroutine.
type store struct {
	path   string
	schema []string
	keep   []ring
	fault  func(step string) error
	now    func() time.Time // for the name of a file set aside

	db      *sql.DB // nil while it is not open
	file    os.FileInfo
	log     os.FileInfo       // of the write-ahead log; nil before a commit
	number  int64             // of the newest row
	added   int               // rows since the last pruning
	stored  map[string]string // the parts of the checkpoint in the file
	newest  map[string]string // those of the newest checkpoint known; nil before there is one
	found   *witness          // what the file said when it was first read
	folded  string            // the grave part of what is in the file without its log; empty when unknown
	birth   *checkpoint       // what a new file begins with; nil once there was a record
	from    int               // the version of the schema that the file had
	made    bool              // the file was begun by this program
	totals  map[dayOutput]run // of the days this process has written to
	aside   string            // where a damaged file was put last
	ailment error             // what was wrong with it
	post    post              // the messages
}

// at runs the hook of a step.
func (s *store) at(step string) error {
	if s.fault == nil {
		return nil
	}
	return s.fault(step)
}

// ready opens the file where that is needed. A damaged one is set aside and a
// new one begun, with the newest checkpoint that could be read.
func (s *store) ready() error {
	if s.db != nil && (s.moved() || s.logMoved()) {
		s.close()
	}
	if s.db != nil {
		return nil
	}
	err := s.open()
	if !damaged(err) {
		return err
	}
	if s.found == nil {
		s.found = &witness{what: ledgerText, there: true}
		if !errors.Is(err, errForeignLog) {
			s.found = salvage(s.path)
		}
		s.found.fault = cmp.Or(s.found.fault, err)
	}
	aside, asideErr := setAside(s.path, s.now())
	if asideErr != nil {
		return fmt.Errorf("set the damaged ledger aside: %w (%w)", asideErr, err)
	}
	s.aside, s.ailment = aside, err
	return s.open()
}

// moved reports whether the file at path is no longer the one that is open:
// writing to it would reach nothing that survives.
func (s *store) moved() bool {
	now, err := os.Stat(s.path)
	return err != nil || !os.SameFile(now, s.file)
}

// logMoved reports whether the log is no longer the one that is written to. As
// it closes the file SQLite folds the log that it has into it.
func (s *store) logMoved() bool {
	now, err := os.Stat(s.path + beside[0])
	return s.log != nil && (err != nil || !os.SameFile(now, s.log))
}

func (s *store) open() (err error) {
	if err := s.at("open"); err != nil {
		return err
	}
	if err := s.begin(); err != nil {
		return err
	}
	if err := s.known(); err != nil {
		return err
	}
	db, err := connect(s.path, writing)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = db.Close()
		}
	}()
	if err := writable(db); err != nil {
		return err
	}
	if err := errors.Join(sound(db), asMade(db, s.schema)); err != nil {
		return err
	}
	if err := migrate(db, s.schema); err != nil {
		return err
	}
	if err := s.load(db); err != nil {
		return err
	}
	if s.file, err = os.Stat(s.path); err != nil {
		return err
	}
	s.db = db
	return nil
}

// begin makes the file where there is none.
func (s *store) begin() error {
	if exists(s.path) {
		return nil
	}
	if logged(s.path) { // it may be all that is left, and SQLite would delete it
		return damage{"the file is gone and only its log is there"}
	}
	if err := create(s.path, s.schema, s.birth); err != nil {
		return fmt.Errorf("begin a new ledger: %w", err)
	}
	s.made = true
	return nil
}

// known refuses a file of a newer version before anything writes to it.
func (s *store) known() error {
	info, err := os.Stat(s.path)
	if err != nil {
		return err
	}
	if info.Size() == 0 { // SQLite would take it for a new one and throw its log away
		return damage{"the file is empty"}
	}
	db, err := peek(s.path)
	if err != nil {
		return err
	}
	defer func() { _ = db.Close() }()
	v, err := version(db)
	if err != nil {
		return err
	}
	if v > len(s.schema) {
		return fmt.Errorf("version %d: %w", v, errNewer)
	}
	s.from = v
	return s.ownLog(db)
}

// errForeignLog says that a file and its log do not belong together. SQLite would
// put the pages of the one into the other, and what it reads then may look whole.
var errForeignLog error = damage{"its log is of another ledger"}

// ownLog refuses a log whose record is not that of the file beside it. What the
// file says without its own log is not the latest, so it is not gone on from.
func (s *store) ownLog(with *sql.DB) error {
	if !logged(s.path) {
		return nil
	}
	without, err := connect(s.path, immutable)
	if err != nil {
		return err
	}
	defer func() { _ = without.Close() }()
	file, both := testify(without).head, testify(with).head
	if file != nil && both != nil && file.Record != both.Record && file.Record != "" {
		return errForeignLog
	}
	return nil
}

// load reads what the next writes go on from.
func (s *store) load(db *sql.DB) error {
	w := testify(db)
	if w.fault != nil {
		return unreadable(w.fault)
	}
	if err := s.post.load(db, s.aside); err != nil {
		return err
	}
	if s.from < sumsSince {
		w.doubt()
	}
	if err := s.find(w, db); err != nil {
		return err
	}
	s.stored = w.parts
	if s.stored == nil {
		s.stored = make(map[string]string)
	}
	for _, part := range w.hurt {
		s.stored[part] = "" // to be written anew, or taken out
	}
	s.added = pruneEvery
	return s.count(db)
}

// find takes what the file says when it is first read.
func (s *store) find(w *witness, db *sql.DB) error {
	if s.found != nil {
		return nil
	}
	s.found = w
	w.begun = s.birth != nil
	w.there = w.begun || !s.made // what was made in place of one that is gone knows nothing
	if s.from >= sumsSince {
		return nil
	}
	w.old = true
	return w.lookForRows(db)
}

// count finds the highest number of a row.
func (s *store) count(db *sql.DB) error {
	for _, t := range tables {
		var n int64
		if err := db.QueryRow("SELECT coalesce(max(id), 0) FROM " + t).Scan(&n); err != nil {
			return err
		}
		s.number = max(s.number, n)
	}
	var counted int64
	err := db.QueryRow("SELECT coalesce(max(counted), 0) FROM trips").Scan(&counted)
	s.number = max(s.number, counted)
	return err
}

func (s *store) close() {
	if s.db != nil {
		_ = s.db.Close()
		s.db, s.log, s.folded = nil, nil, ""
	}
}

// fold brings the log into the file, so that the grave part of what was written
// outlasts the log: whoever takes that away, and the copy with it, would else
// take a latch away. What cannot be folded now is folded after a later write.
func (s *store) fold(grave string) {
	if s.db == nil || grave == s.folded {
		return
	}
	var busy, pages, folded int
	err := s.db.QueryRow("PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &pages, &folded)
	if err == nil && busy == 0 && folded == pages {
		s.folded = grave
	}
}

// write puts a batch on storage, whole or not at all. After an error it can be
// tried again: what it has stored already is not doubled.
func (s *store) write(b *batch) error {
	s.post.take(b.outbox)
	if err := s.ready(); err != nil {
		return err
	}
	err := s.commit(b)
	if err != nil && !passing(err) {
		s.close()
	}
	return err
}

// attempt is what a transaction changes in the store once it is committed.
type attempt struct {
	*sql.Tx
	prepared map[string]*sql.Stmt
	parts    map[string]string
	outbox   sums // of its rows
	totals   map[dayOutput]run
	pruned   bool
}

// put runs a statement, prepared once for all its rows.
func (a *attempt) put(text string, args ...any) error {
	s := a.prepared[text]
	if s == nil {
		var err error
		if s, err = a.Prepare(text); err != nil { // closed with the transaction
			return err
		}
		a.prepared[text] = s
	}
	_, err := s.Exec(args...)
	return err
}

func (s *store) commit(b *batch) error {
	if err := s.at("begin"); err != nil {
		return err
	}
	tx, err := s.db.Begin()
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	a := &attempt{Tx: tx, prepared: make(map[string]*sql.Stmt), parts: s.newest, totals: make(map[dayOutput]run)}
	for _, step := range []struct {
		name string
		do   func(*attempt, *batch) error
	}{
		{"floods", s.putFloods}, {"rows", s.putRows}, {"outputs", s.putRuns}, {"checkpoint", s.putCheckpoint}, {"outbox", s.putOutbox}, {"prune", s.prune},
	} {
		if err := errors.Join(s.at(step.name), step.do(a, b)); err != nil {
			return fmt.Errorf("write %s to the ledger: %w", step.name, err)
		}
	}
	if err := s.at("commit"); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("sync the ledger: %w", err)
	}
	s.settle(a, b)
	if s.log == nil {
		s.log, _ = os.Stat(s.path + beside[0])
	}
	_ = s.at("committed")
	return nil
}

// totalsKept bounds the run times kept in memory.
const totalsKept = 1000

func (s *store) settle(a *attempt, b *batch) {
	s.stored, s.newest = a.parts, a.parts
	s.post.settle(a.outbox)
	if len(s.totals) > totalsKept {
		clear(s.totals)
	}
	maps.Copy(s.totals, a.totals)
	s.added += len(b.rows) + len(b.floods)
	if a.pruned {
		s.added = 0
	}
}
