package ledger

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchtide/controller/notify/outbox"
)

// outboxVersion is the first version of a ledger that has an outbox.
const outboxVersion = 3

// foundOutbox is an outbox as it was found in a file.
type foundOutbox struct {
	outbox.State
	Revision int64  `json:"revision"`
	Taken    bool   `json:"taken,omitempty"`
	Site     string `json:"site,omitempty"` // of the copy alone
	stored   sums
	bad      int // rows whose checksum is not theirs
}

// whole reports whether everything in the file was read and sound.
func (f *foundOutbox) whole(err error) bool { return err == nil && f.bad == 0 }

// readOutbox reads all that can be read; the error says what cannot.
func readOutbox(db *sql.DB) (f foundOutbox, err error) {
	f.stored, f.Channels = sums{}, map[string]outbox.Channel{}
	return f, errors.Join(f.readMessages(db), f.readLost(db), f.readChannels(db), f.readParts(db))
}

// sound notes a row under its key, and reports whether its checksum is right.
func (f *foundOutbox) sound(table, key string, sum int64, vals ...any) bool {
	right := sumOf(vals...) == uint64(sum)
	if f.stored[rowName{table, key}] = uint64(sum); !right {
		f.bad++
		f.stored[rowName{table, key}] = ^sumOf(vals...) // whatever is stored next differs
	}
	return right
}

// each calls scan for every row of a query.
func each(db *sql.DB, query string, scan func(*sql.Rows) error) error {
	rows, err := db.Query(query)
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (f *foundOutbox) readMessages(db *sql.DB) error {
	return each(db, "SELECT id, seq, way, at, left, notice, sum FROM parcels ORDER BY seq, id", func(rows *sql.Rows) error {
		var p outbox.Message
		var at, left, sum int64
		var notice string
		if err := rows.Scan(&p.ID, &p.Seq, &p.Channel, &at, &left, &notice, &sum); err != nil {
			return err
		}
		if f.sound("parcels", p.ID, sum, p.ID, p.Seq, p.Channel, at, left, notice) {
			p.At, p.Left, p.Notice = time.UnixMilli(at).UTC(), millis(left), json.RawMessage(notice)
			f.Waiting = append(f.Waiting, p)
		}
		return nil
	})
}

func (f *foundOutbox) readLost(db *sql.DB) error {
	return each(db, "SELECT id, way, at, subject, error, sum FROM undelivered ORDER BY rowid", func(rows *sql.Rows) error {
		var l outbox.Lost
		var at, sum int64
		if err := rows.Scan(&l.ID, &l.Channel, &at, &l.Subject, &l.Error, &sum); err != nil {
			return err
		}
		if f.sound("undelivered", l.ID, sum, l.ID, l.Channel, at, l.Subject, l.Error) {
			l.At = time.UnixMilli(at).UTC()
			f.Lost = append(f.Lost, l)
		}
		return nil
	})
}

func (f *foundOutbox) readChannels(db *sql.DB) error {
	return each(db, "SELECT name, sent, confirmed, code, asked, sum FROM ways", func(rows *sql.Rows) error {
		var name string
		var w outbox.Channel
		var sent, confirmed, asked sql.NullInt64
		var sum int64
		if err := rows.Scan(&name, &sent, &confirmed, &w.Code, &asked, &sum); err != nil {
			return err
		}
		w.Sent, w.Confirmed, w.Asked = timeOf(sent), timeOf(confirmed), timeOf(asked)
		if f.sound("ways", name, sum, name, instant(w.Sent), instant(w.Confirmed), w.Code, instant(w.Asked)) {
			f.Channels[name] = w
		}
		return nil
	})
}

func (f *foundOutbox) readParts(db *sql.DB) error {
	return each(db, "SELECT part, data, sum FROM outbox", func(rows *sql.Rows) error {
		var part, data string
		var sum int64
		if err := rows.Scan(&part, &data, &sum); err != nil {
			return err
		}
		if !f.sound("outbox", part, sum, part, data) {
			return nil
		}
		switch part {
		case alarmsPart:
			f.Alarms = json.RawMessage(data)
		case takenPart:
			f.Taken = true
		case revisionPart:
			f.Revision, _ = strconv.ParseInt(data, 10, 64) // its sum is right
		}
		return nil
	})
}

// load reads what the next writes go on from; aside is a file that was set aside,
// empty where none was. What a program could not read at its start is joined to
// what it has since, unless the copy that it began with is newer.
func (p *post) load(db *sql.DB, aside string) error {
	f, err := readOutbox(db)
	if err != nil {
		return err
	}
	p.stored, p.clean, p.inFile = f.stored, false, &f
	if !p.unread {
		return nil
	}
	p.unread = false
	if strings.HasSuffix(aside, ".db") {
		f, _ = peekOutbox(aside, len(schema)) // what can be read
	}
	if f.Empty() || f.Revision <= p.recalled {
		return nil
	}
	p.revision, p.taken = max(p.revision, f.Revision), p.taken || f.Taken
	p.join(&f.State)
	return nil
}

// join adds what was found late to the newest state and to all that is handed
// over, until that has it.
func (p *post) join(late *outbox.State) {
	p.late, p.tell = late, true
	if p.newest != nil {
		p.renew(p.newest.With(*late))
	}
}

// recallOutbox reads what the messages go on from: out of the ledger, or what
// can be read of one that was set aside, out of the copy beside it, and out of
// the queue of earlier versions. The error says what of it is lost.
func (l *Ledger) recallOutbox() error {
	p := &l.store.post
	ledger, err := l.outboxOnFile()
	if p.unread {
		err = nil // it is read later
	}
	var copied *foundOutbox
	copied, p.copied = readCopy(l.copyPath())
	if copied != nil && !l.knows(copied.Site) { // its alarms are not of these benches
		_, _ = putAway(l.copyPath(), l.store.now()) // else it is replaced
		copied, p.copied = nil, 0
	}
	f, lost := newestOf(ledger, err, copied)
	p.recalled, p.revision, p.taken = f.Revision, f.Revision, f.Taken
	old, oldErr := p.old.read(l.oldPath(), f.Taken)
	p.taken = p.taken || old != nil
	if old != nil && f.Empty() {
		f.State, old = *old, nil
	}
	l.before = f.State
	p.newest, p.rows = &l.before, rowsOf(&l.before, p.taken)
	if old != nil { // beside what the ledger has already
		p.join(old)
		l.foundLate, p.tell = old, false
	}
	if p.differs() || p.copied == 0 && !f.Empty() {
		l.next.outbox = &handed{l.before, true}
		l.signal(true)
	}
	return errors.Join(lost, oldErr)
}

// differs reports whether the file does not have the rows of the newest state.
func (p *post) differs() bool {
	n := 0
	for i := range p.rows {
		if p.stored[p.rows[i].rowName] != p.rows[i].sum {
			return true
		}
		n++
	}
	if _, ok := p.stored[rowName{"outbox", revisionPart}]; ok {
		n++
	}
	return n != len(p.stored)
}

// outboxOnFile is the outbox of the ledger that is open, of one on storage that
// takes no writes, or of one that was set aside.
func (l *Ledger) outboxOnFile() (foundOutbox, error) {
	p := &l.store.post
	path := l.path
	switch {
	case strings.HasSuffix(l.store.aside, ".db") && !p.foreign:
		path = l.store.aside
	case l.store.db != nil:
		return *p.inFile, nil
	case !exists(path):
		p.unread = true // it may come back
		return foundOutbox{}, nil
	}
	f, err := peekOutbox(path, len(l.store.schema))
	p.unread = err != nil && l.store.db == nil
	return f, err
}

// peekOutbox reads the outbox of a ledger that is not open.
func peekOutbox(path string, newest int) (f foundOutbox, err error) {
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return f, errors.Join(err, damage{"the file is empty"})
	}
	db, err := peek(path)
	if err != nil {
		return f, err
	}
	defer func() { _ = db.Close() }()
	v, err := version(db)
	switch {
	case err != nil:
		return f, err
	case v > newest:
		return f, errNewer
	case v < outboxVersion:
		return f, nil
	}
	return readOutbox(db)
}

// newestOf is the newer of what was found in the ledger and in the copy, and
// what both have where the ledger is not whole. The error says what is lost.
func newestOf(ledger foundOutbox, err error, copied *foundOutbox) (foundOutbox, error) {
	switch {
	case copied != nil && copied.Revision > ledger.Revision:
		return *copied, nil
	case ledger.whole(err):
		return ledger, nil
	case copied != nil && copied.Revision == ledger.Revision:
		return *copied, nil
	case copied != nil:
		ledger.State = ledger.With(copied.State)
		slices.SortStableFunc(ledger.Waiting, func(a, b outbox.Message) int { return cmp.Compare(a.Seq, b.Seq) })
		ledger.Taken = ledger.Taken || copied.Taken
		return ledger, nil
	case err == nil:
		err = fmt.Errorf("%d rows are damaged", ledger.bad)
	}
	return ledger, fmt.Errorf("read the messages that waited: %w", err)
}
