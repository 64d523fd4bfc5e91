package ledger

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"benchtide/controller/notify/outbox"
)

// Earlier versions kept their messages in a file of their own beside the ledger.
// It is taken over in one write, with a mark that this was done, and removed once
// that write is synced. A program that dies in between finds the mark, or the
// file as it was.

// oldName is that file.
const oldName = "messages.db"

// oldQueue is the queue of earlier versions, while its file is there.
type oldQueue struct {
	path    string // empty when there is none to be removed
	damaged bool   // then it is set aside
}

func (l *Ledger) oldPath() string { return filepath.Join(filepath.Dir(l.path), oldName) }

// read returns what waits in the queue at path, unless that was taken over
// already. The error says what cannot be read. What storage refuses now says
// nothing of the file: it stays where it is for the next start.
func (o *oldQueue) read(path string, taken bool) (*outbox.State, error) {
	if !exists(path) {
		if taken { // a death between two removals
			_ = discard(path)
		}
		return nil, nil
	}
	if taken {
		o.path = path
		return nil, nil
	}
	s, err := readOld(path)
	switch {
	case err == nil:
		o.path = path
	case damaged(err):
		o.path, o.damaged = path, true
		err = fmt.Errorf("read the messages that waited in %s: %w; it is set aside as %s.damaged", oldName, err, oldName)
	default:
		return nil, fmt.Errorf("read the messages that waited in %s: %w; it stays where it is and is read at the next start", oldName, err)
	}
	return &s, err
}

// readOld reads all that can be read.
func readOld(path string) (s outbox.State, err error) {
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return s, err // nothing was ever in it
	}
	db, err := peek(path)
	if err != nil {
		return s, err
	}
	defer func() { _ = db.Close() }()
	var version int
	if err := db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return s, err
	}
	switch {
	case version == 0: // it was begun and never written to
		return s, nil
	case version > 1:
		return s, fmt.Errorf("its version is %d, which no program is known to have written", version)
	}
	s.Channels = map[string]outbox.Channel{}
	return s, errors.Join(oldMessages(db, &s), oldChannels(db, &s), oldAlarms(db, &s))
}

func oldMessages(db *sql.DB, s *outbox.State) error {
	return each(db, "SELECT seq, id, way, at, notice, left, state, error FROM parcels WHERE state IN ('waiting', 'undelivered') ORDER BY seq", func(rows *sql.Rows) error {
		var p outbox.Message
		var at, left int64
		var notice, state, trouble string
		if err := rows.Scan(&p.Seq, &p.ID, &p.Channel, &at, &notice, &left, &state, &trouble); err != nil {
			return err
		}
		p.At, p.Left, p.Notice = time.UnixMilli(at).UTC(), millis(left), json.RawMessage(notice)
		if state == "waiting" && json.Valid(p.Notice) {
			s.Waiting = append(s.Waiting, p)
			return nil
		}
		var said struct{ Subject string }
		_ = json.Unmarshal(p.Notice, &said) // the rest tells as well
		s.Lost = append(s.Lost, outbox.Lost{ID: p.ID, Channel: p.Channel, At: p.At, Subject: said.Subject, Error: trouble})
		return nil
	})
}

func oldChannels(db *sql.DB, s *outbox.State) error {
	return each(db, "SELECT name, sent, confirmed, code, asked FROM ways", func(rows *sql.Rows) error {
		var name string
		var w outbox.Channel
		var sent, confirmed, asked sql.NullInt64
		if err := rows.Scan(&name, &sent, &confirmed, &w.Code, &asked); err != nil {
			return err
		}
		w.Sent, w.Confirmed, w.Asked = timeOf(sent), timeOf(confirmed), timeOf(asked)
		s.Channels[name] = w
		return nil
	})
}

func oldAlarms(db *sql.DB, s *outbox.State) error {
	var panel string
	err := db.QueryRow("SELECT value FROM parts WHERE name = 'panel'").Scan(&panel)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err == nil && json.Valid([]byte(panel)) {
		s.Alarms = json.RawMessage(panel)
	}
	return err
}

// dropOld removes the queue of earlier versions once the ledger has what was in
// it. What cannot be removed now is at the next start.
func (s *store) dropOld() {
	o := &s.post.old
	if _, kept := s.post.stored[rowName{"outbox", takenPart}]; o.path == "" || !kept {
		return
	}
	if s.at("old") != nil {
		return
	}
	path := o.path
	o.path = ""
	if o.damaged {
		for _, end := range append([]string{""}, beside...) {
			_ = os.Rename(path+end, path+".damaged"+end)
		}
	} else if os.Remove(path) == nil { // it first: without it the others are nothing
		_ = discard(path)
	}
	_ = syncDir(path)
}
