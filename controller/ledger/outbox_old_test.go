package ledger

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/outbox"
)

// oldSchema is that of the queue of earlier versions, as they made it.
const oldSchema = `
CREATE TABLE parcels (
  seq    INTEGER PRIMARY KEY,
  id     TEXT NOT NULL UNIQUE,
  way    TEXT NOT NULL,
  at     INTEGER NOT NULL,
  notice TEXT NOT NULL,
  left   INTEGER NOT NULL,
  state  TEXT NOT NULL,
  error  TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX parcels_state ON parcels (state);
CREATE TABLE ways (
  name      TEXT PRIMARY KEY,
  sent      INTEGER,
  confirmed INTEGER,
  code      TEXT NOT NULL DEFAULT '',
  asked     INTEGER
) STRICT;
CREATE TABLE parts (
  name  TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT;
PRAGMA user_version = 1;
`

// oldQueueOf makes a queue of earlier versions that holds a state, and much that
// was delivered. It is left open: its log is not folded.
func oldQueueOf(t *testing.T, dir string, s outbox.State) *sql.DB {
	db, err := connect(filepath.Join(dir, oldName), "_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)")
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	do := func(text string, args ...any) {
		_, err := db.Exec(text, args...)
		require.NoError(t, err)
	}
	do(oldSchema)
	put := func(seq int64, id, channel, notice string, at time.Time, left time.Duration, state, trouble string) {
		do("INSERT INTO parcels (seq, id, way, at, notice, left, state, error) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			seq, id, channel, at.UnixMilli(), notice, left.Milliseconds(), state, trouble)
	}
	for n := range int64(50) {
		put(100+n, fmt.Sprint("msg_gone_", n), "mail", `{"Subject":"taken"}`, noon(1).Wall, time.Hour, []string{"delivered", "moot"}[n%2], "")
	}
	for i, l := range s.Lost {
		subject, err := json.Marshal(map[string]string{"Subject": l.Subject})
		require.NoError(t, err)
		put(int64(200+i), l.ID, l.Channel, string(subject), l.At, 0, "undelivered", l.Error)
	}
	for _, p := range s.Waiting {
		put(p.Seq, p.ID, p.Channel, string(p.Notice), p.At, p.Left, "waiting", "")
	}
	for name, w := range s.Channels {
		do("INSERT INTO ways (name, sent, confirmed, code, asked) VALUES (?, ?, ?, ?, ?)", name, instant(w.Sent), instant(w.Confirmed), w.Code, instant(w.Asked))
	}
	do("INSERT INTO parts (name, value) VALUES ('panel', ?), ('identity', '\"0123456789ab\"')", string(s.Alarms))
	return db
}

// copyAll copies every file as a process that dies here leaves it.
func copyAll(t *testing.T, from, to string) {
	require.NoError(t, os.MkdirAll(to, 0o750))
	files, err := os.ReadDir(from)
	require.NoError(t, err)
	for _, f := range files {
		if !f.Type().IsRegular() || filepath.Ext(f.Name()) == ".lock" || len(f.Name()) > 4 && f.Name()[len(f.Name())-4:] == "-shm" {
			continue
		}
		data, err := os.ReadFile(filepath.Join(from, f.Name()))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(to, f.Name()), data, 0o640))
	}
}

// oldState is a directory with a ledger of the version before the outbox and
// the queue beside it, as a program leaves them that died.
func oldState(t *testing.T) string {
	dir, left := t.TempDir(), t.TempDir()
	data, err := os.ReadFile(keptFile(outboxVersion - 1))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, fileName), data, 0o640))
	oldQueueOf(t, dir, anOutbox())
	copyAll(t, dir, left)
	return left
}

func TestTheQueueOfEarlierVersionsIsTakenOverOnce(t *testing.T) {
	t.Parallel()
	dir := oldState(t)
	l, r := open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages)
	require.Equal(t, anOutbox(), l.Outbox())
	require.NoError(t, l.Flush(t.Context()))
	left, err := filepath.Glob(filepath.Join(dir, oldName+"*"))
	require.NoError(t, err)
	require.Empty(t, left, "it is removed once the ledger has all")
	sent := anOutbox()
	sent.Waiting = sent.Waiting[1:]
	l.Keep(sent, true)
	require.NoError(t, l.Close())
	l, _ = open(t, dir, Options{Limits: limits})
	assert.Equal(t, sent, l.Outbox())
}

func TestADeathAtAnyStepOfTheTakeOverLosesNothingAndSendsNothingTwice(t *testing.T) {
	t.Parallel()
	dir, copies := oldState(t), t.TempDir()
	var steps []string
	l, _, err := Open(dir, Options{Limits: limits, Fault: func(step string) error {
		copyAll(t, dir, filepath.Join(copies, fmt.Sprint(len(steps))))
		steps = append(steps, step)
		return nil
	}})
	require.NoError(t, err)
	require.NoError(t, l.Flush(t.Context()))
	require.NoError(t, l.Close())
	require.Contains(t, steps, "copy")
	require.Contains(t, steps, "old")
	for i, step := range steps {
		from := filepath.Join(copies, fmt.Sprint(i))
		for _, keeps := range []bool{true, false} { // whether or not the copy outlasts it
			again := t.TempDir()
			copyAll(t, from, again)
			if !keeps {
				_ = os.Remove(filepath.Join(again, copyName))
			}
			l, r := open(t, again, Options{Limits: limits})
			require.NoError(t, r.Messages, "death %d at %q", i, step)
			require.Equal(t, anOutbox(), l.Outbox(), "death %d at %q", i, step)
			sent := anOutbox()
			sent.Waiting = nil
			l.Keep(sent, true)
			require.NoError(t, l.Close())
			require.NoFileExists(t, filepath.Join(again, oldName))
			l, _ = open(t, again, Options{Limits: limits})
			require.Equal(t, sent, l.Outbox(), "what went out after death %d at %q comes back", i, step)
			require.NoError(t, l.Close())
		}
	}
	t.Logf("deaths %d, each with and without the copy", len(steps))
}

// While the ledger takes nothing the old queue stays where it is, and what went
// out meanwhile is in the copy.
func TestATakeOverThatTheLedgerRefusesIsMadeUpLater(t *testing.T) {
	t.Parallel()
	dir := oldState(t)
	var f failing
	f.step.Store("begin")
	l, _, err := Open(dir, Options{Limits: limits, Fault: f.fault})
	require.NoError(t, err)
	require.Equal(t, anOutbox(), l.Outbox())
	sent := anOutbox()
	sent.Waiting = sent.Waiting[1:]
	l.Keep(sent, true)
	require.NoError(t, l.Close())
	require.FileExists(t, filepath.Join(dir, oldName))

	l, r := open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages)
	require.Equal(t, sent, l.Outbox())
	require.NoError(t, l.Close())
	require.NoFileExists(t, filepath.Join(dir, oldName))
}

func TestAQueueThatAppearsBesideALedgerThatHasMessagesIsJoined(t *testing.T) {
	t.Parallel()
	own := outbox.State{Alarms: json.RawMessage(`{"next_id":1}`), Channels: map[string]outbox.Channel{}, Waiting: []outbox.Message{aMessage(1, "mail")}}
	dir := keptOutbox(t, own)
	require.NoError(t, oldQueueOf(t, dir, anOutbox()).Close())
	l, r := open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages)
	require.Equal(t, own, l.Outbox())
	found := make(chan outbox.State, 1)
	l.OnFound(func(s outbox.State) { found <- s })
	assert.Equal(t, anOutbox(), <-found)
	require.NoError(t, l.Flush(t.Context()))
	require.NoFileExists(t, filepath.Join(dir, oldName))
	require.NoError(t, l.Close())
	l, _ = open(t, dir, Options{Limits: limits})
	assert.Len(t, l.Outbox().Waiting, 3)
}

func TestAnOldQueueThatIsLockedIsReadAllTheSame(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	db := oldQueueOf(t, dir, anOutbox())
	tx, err := db.Begin() // takes the lock of a writer
	require.NoError(t, err)
	defer func() { _ = tx.Rollback() }()
	l, r := open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages)
	require.Equal(t, anOutbox(), l.Outbox())
}

func TestADamagedOldQueueIsSetAsideAndSaidSo(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, oldName)
	require.NoError(t, os.WriteFile(path, []byte("this is not a database, but long enough to be looked at as one"), 0o600))
	l, r := open(t, dir, Options{Limits: limits})
	require.ErrorContains(t, r.Messages, "set aside as messages.db.damaged")
	require.NoError(t, l.Flush(t.Context()))
	assert.NoFileExists(t, path)
	assert.FileExists(t, path+".damaged")
}

// Storage that refuses says nothing of the file: what waits in it is not lost.
func TestAnOldQueueThatCannotBeOpenedIsLeftWhereItIs(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, oldName)
	require.NoError(t, os.Symlink(oldName, path)) // it leads to itself
	l, r := open(t, dir, Options{Limits: limits})
	require.ErrorContains(t, r.Messages, "is read at the next start")
	require.NoError(t, l.Close())
	require.NoError(t, os.Remove(path))
	require.NoError(t, oldQueueOf(t, dir, anOutbox()).Close())
	l, r = open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages)
	assert.Equal(t, anOutbox(), l.Outbox())
}
