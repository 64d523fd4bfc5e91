package ledger

import (
	"fmt"
	"hash/crc64"
	"strconv"

	"benchtide/controller/notify/outbox"
)

// The outbox is handed over whole. Of its rows only those are written that have
// changed since, with the batch in which it waits.

// handed is an outbox as it was handed over.
type handed struct {
	outbox.State
	soon bool
}

// followedBy returns the newer of two states, in which all of the older is.
func (k *handed) followedBy(next *handed) *handed {
	if next == nil {
		return k
	}
	return &handed{next.State, next.soon || k != nil && k.soon}
}

// post is what the store knows of the outbox. It belongs to the writing
// goroutine.
type post struct {
	newest   *outbox.State // nil before there is one
	revision int64         // of the newest; rises with each
	taken    bool          // the queue of earlier versions is in it
	last     *outbox.State // handed over last

	rows   []outboxRow // of the newest
	stored sums        // of the rows in the file
	clean  bool        // the file has the newest

	foreign  bool          // what was set aside is another site's
	inFile   *foundOutbox  // what the file held when it was opened last
	unread   bool          // what the file holds is not known yet
	recalled int64         // the revision that the program began with
	late     *outbox.State // what it turned out to hold; nil once that is in what is handed over
	tell     bool          // nobody was told of that

	copied int64    // revision of the copy beside the ledger; 0 when there is none
	old    oldQueue // the queue of earlier versions, while its file is there
}

// sums are the checksums of rows by table and key.
type sums map[rowName]uint64

type rowName struct{ table, key string }

// outboxRow is one row of the outbox's tables. Its first value is its key, its
// last the checksum.
type outboxRow struct {
	rowName
	sum  uint64
	vals func() []any // all but the sum
}

// insertOutbox are the statements that put a row in place, by table.
var insertOutbox = map[string]string{
	"parcels": `INSERT INTO parcels (id, seq, way, at, left, notice, sum) VALUES (?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET seq = excluded.seq, way = excluded.way, at = excluded.at, left = excluded.left, notice = excluded.notice, sum = excluded.sum`,
	"undelivered": `INSERT INTO undelivered (id, way, at, subject, error, sum) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET way = excluded.way, at = excluded.at, subject = excluded.subject, error = excluded.error, sum = excluded.sum`,
	"ways": `INSERT INTO ways (name, sent, confirmed, code, asked, sum) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (name) DO UPDATE SET sent = excluded.sent, confirmed = excluded.confirmed, code = excluded.code, asked = excluded.asked, sum = excluded.sum`,
	"outbox": `INSERT INTO outbox (part, data, sum) VALUES (?, ?, ?)
		ON CONFLICT (part) DO UPDATE SET data = excluded.data, sum = excluded.sum`,
}

// deleteOutbox are those that take one away.
var deleteOutbox = map[string]string{
	"parcels": "DELETE FROM parcels WHERE id = ?", "undelivered": "DELETE FROM undelivered WHERE id = ?",
	"ways": "DELETE FROM ways WHERE name = ?", "outbox": "DELETE FROM outbox WHERE part = ?",
}

// Parts in the table of that name.
const (
	alarmsPart   = "alarms"
	revisionPart = "revision"
	takenPart    = "taken"
)

var crcTable = crc64.MakeTable(crc64.ECMA)

// sumOf is the checksum of values as they stand in a row.
func sumOf(vals ...any) uint64 {
	h := crc64.New(crcTable)
	for _, v := range vals {
		_, _ = fmt.Fprintf(h, "%v\x00", v) // never fails
	}
	return h.Sum64()
}

func rowOf(table, key string, vals func() []any) outboxRow {
	return outboxRow{rowName{table, key}, sumOf(vals()...), vals}
}

// rowsOf are the rows of a state, but for its revision.
func rowsOf(s *outbox.State, taken bool) (all []outboxRow) {
	for i := range s.Waiting {
		p := &s.Waiting[i]
		all = append(all, rowOf("parcels", p.ID, func() []any {
			return []any{p.ID, p.Seq, p.Channel, p.At.UnixMilli(), p.Left.Milliseconds(), string(p.Notice)}
		}))
	}
	for i := range s.Lost {
		l := &s.Lost[i]
		all = append(all, rowOf("undelivered", l.ID, func() []any { return []any{l.ID, l.Channel, l.At.UnixMilli(), l.Subject, l.Error} }))
	}
	for name, w := range s.Channels {
		all = append(all, rowOf("ways", name, func() []any {
			return []any{name, instant(w.Sent), instant(w.Confirmed), w.Code, instant(w.Asked)}
		}))
	}
	part := func(name, data string) {
		all = append(all, rowOf("outbox", name, func() []any { return []any{name, data} }))
	}
	if s.Alarms != nil {
		part(alarmsPart, string(s.Alarms))
	}
	if taken {
		part(takenPart, "yes")
	}
	return all
}

// take takes up what was handed over, unless it is what is tried already.
func (p *post) take(k *handed) {
	if k == nil || &k.State == p.last {
		return
	}
	p.last = &k.State
	if k.Joined {
		p.late = nil
	}
	s := k.State
	if p.late != nil {
		s = s.With(*p.late)
	}
	p.renew(s)
}

// renew makes s the newest state.
func (p *post) renew(s outbox.State) {
	p.newest, p.rows, p.clean = &s, rowsOf(&s, p.taken), false
	p.revision++
}

// putOutbox stores the rows that have changed.
func (s *store) putOutbox(a *attempt, _ *batch) error {
	p := &s.post
	if p.newest == nil || p.clean {
		return nil
	}
	a.outbox = make(sums, len(p.rows)+1)
	changed := false
	for i := range p.rows {
		r := &p.rows[i]
		a.outbox[r.rowName] = r.sum
		if have, ok := p.stored[r.rowName]; ok && have == r.sum {
			continue
		}
		changed = true
		if err := a.put(insertOutbox[r.table], append(r.vals(), int64(r.sum))...); err != nil {
			return err
		}
	}
	revision := rowName{"outbox", revisionPart}
	for name := range p.stored {
		if _, kept := a.outbox[name]; kept || name == revision {
			continue
		}
		changed = true
		if err := a.put(deleteOutbox[name.table], name.key); err != nil {
			return err
		}
	}
	if !changed {
		a.outbox[revision] = p.stored[revision]
		return nil
	}
	number := strconv.FormatInt(p.revision, 10)
	a.outbox[revision] = sumOf(revisionPart, number)
	return a.put(insertOutbox["outbox"], revisionPart, number, int64(a.outbox[revision]))
}

// settle notes that the file has what was newest.
func (p *post) settle(stored sums) {
	if stored != nil {
		p.stored, p.clean = stored, true
	}
}
