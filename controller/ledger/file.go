package ledger

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"modernc.org/sqlite"
)

// fileName is the ledger's file in its directory.
const fileName = "ledger.db"

// beside lists the files SQLite keeps beside a database.
var beside = []string{"-wal", "-shm", "-journal"}

func init() {
	if runtime.GOOS == "linux" {
		// The same safety as fsync, without a write of the file's timestamps to
		// the card at each commit.
		_, _ = sqlite.Fdatasync(true)
	}
}

// Modes of connections.
const (
	shared    = "mode=rw&_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=wal_autocheckpoint(2000)&_pragma=journal_size_limit(4194304)&_pragma=cache_size(-512)"
	reading   = "mode=ro&_pragma=cache_size(-512)"
	immutable = "mode=ro&immutable=1"
	alone     = "mode=ro&vfs=unix-none&_pragma=locking_mode(EXCLUSIVE)" // the index of the log in memory; nobody else has the file
)

// writing is how the program holds its ledger: no other program can open it
// meanwhile, so that the index of the log stays in the memory of this one. As a
// file that others share it would cost storage more than the log itself: each
// commit changes its pages here and there.
var writing = func() string {
	if runtime.GOOS == "windows" { // has no such way of opening a file
		return shared
	}
	return shared + "&vfs=unix-excl"
}()

// connect opens the database at path in a mode, with at most one connection.
// Nothing is read yet.
func connect(path, mode string) (*sql.DB, error) {
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: mode + "&_pragma=busy_timeout(5000)"}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// peek opens the database at path, which nobody else has open, to read it. It
// needs no file beside and leaves none behind, so it also reads what is on
// storage that takes no writes: as immutable, which leaves a log out, or where
// there is one, by keeping its index in memory.
func peek(path string) (*sql.DB, error) {
	switch {
	case !logged(path):
		return connect(path, immutable)
	case runtime.GOOS == "windows": // has no such way of opening a file
		return connect(path, reading)
	}
	return connect(path, alone)
}

// Result codes of SQLite, https://www.sqlite.org/rescode.html.
const (
	codePerm       = 3
	codeBusy       = 5
	codeLocked     = 6
	codeNoMemory   = 7
	codeReadOnly   = 8
	codeInterrupt  = 9
	codeIO         = 10
	codeCorrupt    = 11
	codeFull       = 13
	codeCannotOpen = 14
	codeProtocol   = 15
	codeNotADB     = 26
	primaryCodeSet = 0xff
)

func code(err error) int {
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		return e.Code() & primaryCodeSet
	}
	return 0
}

// damage says that a file cannot be a whole ledger.
type damage struct{ what string }

func (d damage) Error() string { return d.what }

// damaged reports whether err says that the file itself is bad, not the
// storage under it.
func damaged(err error) bool {
	_, bad := errors.AsType[damage](err)
	return bad || code(err) == codeCorrupt || code(err) == codeNotADB
}

// unreadable is err as a damage of the file, unless it is the storage's: what a
// sound file cannot answer was not written by this program.
func unreadable(err error) error {
	switch code(err) {
	case codePerm, codeBusy, codeLocked, codeNoMemory, codeReadOnly, codeInterrupt, codeIO, codeFull, codeCannotOpen, codeProtocol:
		return err
	}
	return damage{err.Error()}
}

// passing reports whether err leaves an open database as good as it was.
func passing(err error) bool {
	return code(err) == codeBusy || code(err) == codeFull
}

// writable has SQLite take the lock of a writer, which it refuses where it
// could open the file for reading only. Nothing is written.
func writable(db *sql.DB) error {
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	return tx.Rollback()
}

// errNewer says that a newer program wrote the file.
var errNewer = errors.New("written by a newer version of the program: update the program, or start with another state directory")

// applicationID marks a database as a ledger of this program.
const applicationID = 0x62746c67

// version returns the schema version of a database without writing to it. A
// file that is no ledger is a damage.
func version(db *sql.DB) (int, error) {
	var id, v int
	// Each by itself is read off the header; as tables they would want the schema.
	for pragma, to := range map[string]*int{"application_id": &id, "user_version": &v} {
		if err := db.QueryRow("PRAGMA " + pragma).Scan(to); err != nil {
			return 0, err
		}
	}
	if id != applicationID || v < 1 {
		return 0, damage{"the file is not a ledger"}
	}
	return v, nil
}

// sound has SQLite look through the whole database.
func sound(db *sql.DB) error {
	var answer string
	if err := db.QueryRow("PRAGMA quick_check(1)").Scan(&answer); err != nil {
		return err
	}
	if answer != "ok" {
		return damage{answer}
	}
	// The index of the checkpoint too: a part that it does not find would be
	// written twice.
	if err := db.QueryRow("PRAGMA integrity_check(checkpoint)").Scan(&answer); err != nil {
		return err
	}
	if answer != "ok" {
		return damage{answer}
	}
	return nil
}

// asMade compares the tables of a database with those that its version is made
// with: a name that is damaged makes a table of another kind.
func asMade(db *sql.DB, schema []string) error {
	v, err := version(db)
	if err != nil || v > len(schema) {
		return err
	}
	is, err := tablesOf(db)
	if err != nil {
		return unreadable(err)
	}
	ought, err := blankOf(schema[:v])
	if err == nil && is != ought.tables {
		err = damage{"its tables are not those that it was made with"}
	}
	return err
}

// tablesOf is how the tables and indices of a database are made.
func tablesOf(db *sql.DB) (string, error) {
	var text string
	err := db.QueryRow("SELECT coalesce(group_concat(type || name || tbl_name || coalesce(sql, ''), char(10)), '') FROM (SELECT * FROM sqlite_master ORDER BY name)").Scan(&text)
	return text, err
}

// create makes a new ledger at path, whole or not at all. Where no record was
// before, the new one begins with the checkpoint birth; else a ledger without one
// has lost it.
func create(path string, schema []string, birth *checkpoint) error {
	if err := discard(path + ".new"); err != nil {
		return err
	}
	b, err := blankOf(schema)
	file := slices.Clone(b.file)
	if err == nil && birth != nil {
		file, err = b.begun(birth)
	}
	if err != nil {
		return err
	}
	return replace(path, logging(file))
}

// discard removes what an unfinished creation left behind.
func discard(path string) error {
	for _, end := range append(beside, "") {
		if err := os.Remove(path + end); err != nil && !missing(err) {
			return err
		}
	}
	return nil
}

// logged reports whether the database at path has a log with something in it.
func logged(path string) bool {
	info, err := os.Stat(path + "-wal")
	return err == nil && info.Size() > 0
}

// setAside renames the files of the ledger at path and returns the new name of
// the first that was there, empty when none was.
func setAside(path string, now time.Time) (string, error) {
	stem := strings.TrimSuffix(path, ".db") + "-damaged-" + now.UTC().Format("20060102T150405Z")
	to := stem + ".db"
	for n := 2; exists(to) || exists(to+beside[0]); n++ {
		to = fmt.Sprintf("%s-%d.db", stem, n)
	}
	name := ""
	for _, end := range append([]string{""}, beside...) {
		switch err := os.Rename(path+end, to+end); {
		case err == nil && name == "":
			name = to + end
		case err != nil && !missing(err):
			return name, err
		}
	}
	if name == "" {
		return "", nil
	}
	return name, syncDir(path)
}

// missing reports whether err says that a file is not there.
func missing(err error) bool { return errors.Is(err, fs.ErrNotExist) }

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// syncDir makes the renames in path's directory durable.
func syncDir(path string) error {
	d, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
