package notify

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"modernc.org/sqlite"

	"benchtide/controller/notify/alarm"
)

// fileName is the queue's file in the state directory.
const fileName = "messages.db"

// schema is that of a new file. Instants are milliseconds since 1970 UTC,
// durations milliseconds.
const schema = `
CREATE TABLE IF NOT EXISTS parcels (
  seq    INTEGER PRIMARY KEY,
  id     TEXT NOT NULL UNIQUE,
  way    TEXT NOT NULL,
  at     INTEGER NOT NULL,
  notice TEXT NOT NULL,              -- JSON
  left   INTEGER NOT NULL,           -- how long it is still tried
  state  TEXT NOT NULL,              -- waiting, delivered, undelivered, moot
  error  TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX IF NOT EXISTS parcels_state ON parcels (state);
CREATE TABLE IF NOT EXISTS ways (
  name      TEXT PRIMARY KEY,
  sent      INTEGER,
  confirmed INTEGER,
  code      TEXT NOT NULL DEFAULT '',
  asked     INTEGER
) STRICT;
CREATE TABLE IF NOT EXISTS parts (
  name  TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT;
PRAGMA user_version = 1;
`

// Where a parcel is.
const (
	waiting     = "waiting"
	delivered   = "delivered"
	undelivered = "undelivered"
	moot        = "moot" // it needs not be sent any more
)

// keepRows is how many parcels that were taken stay on record, and how many that
// were not.
const keepRows = 1000

// Result codes of SQLite of a file that is none of its own, or none any more,
// https://www.sqlite.org/rescode.html.
const (
	codeCorrupt = 11
	codeNotADB  = 26
	primaryCode = 0xff
)

// row is a parcel in the queue.
type row struct {
	Parcel
	seq   int64
	left  time.Duration
	tries int
	after time.Time // not tried before; zero at once
	state string
	error string
	dirty bool // storage does not know of its present state
}

// box is the queue's file. It may be nil: then nothing is kept.
type box struct{ db *sql.DB }

// openBox opens the queue in dir. A file that cannot be one is set aside; what
// storage refuses now says nothing of the file.
func openBox(dir string) (*box, error) {
	path := filepath.Join(dir, fileName)
	b, err := connect(path)
	if err == nil {
		return b, nil
	}
	if e, ok := errors.AsType[*sqlite.Error](err); !ok || e.Code()&primaryCode != codeCorrupt && e.Code()&primaryCode != codeNotADB {
		return nil, err
	}
	for _, end := range []string{"", "-wal", "-shm"} {
		if e := os.Rename(path+end, path+".damaged"+end); e != nil && !errors.Is(e, os.ErrNotExist) {
			return nil, errors.Join(err, e)
		}
	}
	b, again := connect(path)
	if again != nil {
		return nil, errors.Join(err, again)
	}
	return b, damaged{fmt.Errorf("%w: it was set aside as %s.damaged and a new one begun", err, fileName)}
}

// damaged says that the queue was begun anew.
type damaged struct{ error }

func connect(path string) (*box, error) {
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(),
		RawQuery: "_txlock=immediate&_pragma=busy_timeout(5000)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=cache_size(-256)"}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, fmt.Errorf("open the queue of messages: %w", err)
	}
	db.SetMaxOpenConns(1)
	if err := prepare(db); err != nil {
		return nil, errors.Join(fmt.Errorf("open the queue of messages %q: %w", path, err), db.Close())
	}
	return &box{db}, nil
}

// prepare makes the tables of a new file, and writes nothing to any other: a full
// disk does not keep what waits from being read.
func prepare(db *sql.DB) error {
	var version int
	if err := db.QueryRow("PRAGMA user_version").Scan(&version); err != nil || version > 0 {
		return err
	}
	_, err := db.Exec(schema)
	return err
}

func (b *box) close() error {
	if b == nil {
		return nil
	}
	return b.db.Close()
}

// part reads one of the things kept beside the queue; false when it is not
// there or cannot be read.
func (b *box) part(name string, into any) bool {
	var text string
	if b == nil || b.db.QueryRow("SELECT value FROM parts WHERE name = ?", name).Scan(&text) != nil {
		return false
	}
	return json.Unmarshal([]byte(text), into) == nil
}

// waiting returns the parcels that were not taken yet, in order, and the
// highest number given.
func (b *box) waiting() (rows []*row, last int64, err error) {
	if b == nil {
		return nil, 0, nil
	}
	if err := b.db.QueryRow("SELECT coalesce(max(seq), 0) FROM parcels").Scan(&last); err != nil {
		return nil, 0, err
	}
	found, err := b.db.Query("SELECT seq, id, way, at, notice, left FROM parcels WHERE state = 'waiting' ORDER BY seq")
	if err != nil {
		return nil, last, err
	}
	defer found.Close()
	for found.Next() {
		var r row
		var at, left int64
		var notice string
		if err := found.Scan(&r.seq, &r.ID, &r.Way, &at, &notice, &left); err != nil {
			return rows, last, err
		}
		r.At, r.left, r.state = time.UnixMilli(at).UTC(), time.Duration(left)*time.Millisecond, waiting
		if err := json.Unmarshal([]byte(notice), &r.Notice); err != nil {
			continue // nobody could read it
		}
		rows = append(rows, &r)
	}
	return rows, last, found.Err()
}

// lost lists the parcels that nobody took, newest first.
func (b *box) lost() (all []Lost, err error) {
	if b == nil {
		return nil, nil
	}
	found, err := b.db.Query("SELECT id, way, at, notice, error FROM parcels WHERE state = 'undelivered' ORDER BY seq DESC LIMIT 100")
	if err != nil {
		return nil, err
	}
	defer found.Close()
	for found.Next() {
		var l Lost
		var at int64
		var notice string
		if err := found.Scan(&l.ID, &l.Way, &at, &notice, &l.Error); err != nil {
			return all, err
		}
		var n alarm.Notice
		_ = json.Unmarshal([]byte(notice), &n) // the rest tells as well
		l.At, l.Subject = time.UnixMilli(at).UTC(), n.Subject
		all = append(all, l)
	}
	return all, found.Err()
}

// ways reads how the ways fared.
func (b *box) ways() (map[string]standing, error) {
	all := map[string]standing{}
	if b == nil {
		return all, nil
	}
	found, err := b.db.Query("SELECT name, sent, confirmed, code, asked FROM ways")
	if err != nil {
		return all, err
	}
	defer found.Close()
	for found.Next() {
		var name string
		var s standing
		var sent, confirmed, asked sql.NullInt64
		if err := found.Scan(&name, &sent, &confirmed, &s.code, &asked); err != nil {
			return all, err
		}
		s.sent, s.confirmed, s.asked = instant(sent), instant(confirmed), instant(asked)
		all[name] = s
	}
	return all, found.Err()
}

// standing is how a way fared, as it is kept.
type standing struct {
	sent, confirmed, asked time.Time
	code                   string
}

func instant(v sql.NullInt64) time.Time {
	if !v.Valid {
		return time.Time{}
	}
	return time.UnixMilli(v.Int64).UTC()
}

func milli(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixMilli()
}

// store writes parcels, ways and parts, whole or not at all.
func (b *box) store(rows []*row, ways map[string]standing, parts map[string]any) error {
	if b == nil {
		return nil
	}
	tx, err := b.db.Begin()
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	for _, r := range rows {
		notice, err := json.Marshal(r.Notice)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(`INSERT INTO parcels (seq, id, way, at, notice, left, state, error) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (seq) DO UPDATE SET left = excluded.left, state = excluded.state, error = excluded.error`,
			r.seq, r.ID, r.Way, r.At.UnixMilli(), string(notice), r.left.Milliseconds(), r.state, r.error); err != nil {
			return err
		}
	}
	for name, s := range ways {
		if _, err := tx.Exec(`INSERT INTO ways (name, sent, confirmed, code, asked) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (name) DO UPDATE SET sent = excluded.sent, confirmed = excluded.confirmed, code = excluded.code, asked = excluded.asked`,
			name, milli(s.sent), milli(s.confirmed), s.code, milli(s.asked)); err != nil {
			return err
		}
	}
	for name, v := range parts {
		text, err := json.Marshal(v)
		if err != nil {
			return err
		}
		if _, err := tx.Exec("INSERT INTO parts (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", name, string(text)); err != nil {
			return err
		}
	}
	for _, kind := range []string{"state IN ('delivered', 'moot')", "state = 'undelivered'"} {
		if _, err := tx.Exec("DELETE FROM parcels WHERE "+kind+" AND seq <= (SELECT seq FROM parcels WHERE "+kind+" ORDER BY seq DESC LIMIT 1 OFFSET ?)", keepRows); err != nil {
			return err
		}
	}
	return tx.Commit()
}
