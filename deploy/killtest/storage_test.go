//go:build killtest && linux && amd64

package killtest

import (
	"database/sql"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	_ "modernc.org/sqlite"

	"benchtide/controller/config"
)

// hooked are the messages that a webhook brought: what they are about, and when.
type hooked struct {
	mu  sync.Mutex
	all []message
}

type message struct {
	at   time.Time
	Data struct{ Cause, Happened string }
}

func (h *hooked) ServeHTTP(_ http.ResponseWriter, r *http.Request) {
	m := message{at: time.Now()}
	_ = json.NewDecoder(r.Body).Decode(&m)
	h.mu.Lock()
	h.all = append(h.all, m)
	h.mu.Unlock()
}

// says returns the first message about one of the causes that has these words.
func (h *hooked) says(words string, causes ...string) *message {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, m := range h.all {
		if slices.Contains(causes, m.Data.Cause) && strings.Contains(m.Data.Happened, words) {
			return &m
		}
	}
	return nil
}

func (h *hooked) text() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	text, _ := json.Marshal(h.all)
	return string(text)
}

// smallCard is a file system in memory, of 8 MiB, with a state directory on it.
type smallCard struct{ mount, state string }

func newSmallCard(t *testing.T, from string) *smallCard {
	c := &smallCard{mount: t.TempDir()}
	c.state = filepath.Join(c.mount, "state")
	require.NoError(t, unix.Mount("tmpfs", c.mount, "tmpfs", 0, "mode=0750,size=8m"), "only root may mount")
	t.Cleanup(func() { _ = unix.Unmount(c.mount, unix.MNT_DETACH) })
	require.NoError(t, os.CopyFS(c.state, os.DirFS(from)))
	return c
}

// fill takes all the room that is left.
func (c *smallCard) fill(t *testing.T) {
	f, err := os.Create(filepath.Join(c.mount, "something else"))
	require.NoError(t, err)
	for size := 1 << 16; size > 0; size /= 2 {
		for err = nil; err == nil; {
			_, err = f.Write(make([]byte, size))
		}
	}
	require.ErrorIs(t, err, unix.ENOSPC)
	require.NoError(t, f.Close())
}

func (c *smallCard) makeRoom(t *testing.T) {
	require.NoError(t, os.Remove(filepath.Join(c.mount, "something else")))
}

func (c *smallCard) readOnly(t *testing.T) {
	require.NoError(t, unix.Mount("", c.mount, "", unix.MS_REMOUNT|unix.MS_RDONLY, ""))
}

func (c *smallCard) writable(t *testing.T) {
	require.NoError(t, unix.Mount("", c.mount, "", unix.MS_REMOUNT, "size=8m"))
}

func (c *smallCard) vanish(t *testing.T) { require.NoError(t, os.Rename(c.state, c.state+"-away")) }
func (c *smallCard) appear(t *testing.T) { require.NoError(t, os.Rename(c.state+"-away", c.state)) }
func (c *smallCard) wipe(t *testing.T)   { require.NoError(t, os.RemoveAll(c.state)) }

// lock has another program hold the ledger, until the test ends or it is called.
func (c *smallCard) lock(t *testing.T) (open func(*testing.T)) {
	db, err := sql.Open("sqlite", "file:"+filepath.Join(c.state, "ledger.db")+"?_pragma=locking_mode(EXCLUSIVE)")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	_, err = db.Exec("CREATE TABLE IF NOT EXISTS other (a); DROP TABLE other")
	require.NoError(t, err, "a lock")
	t.Cleanup(func() { _ = db.Close() })
	return func(t *testing.T) { require.NoError(t, db.Close()) }
}

func (c *smallCard) edit(t *testing.T, text string) {
	db, err := sql.Open("sqlite", "file:"+filepath.Join(c.state, "ledger.db"))
	require.NoError(t, err)
	_, err = db.Exec(text)
	require.NoError(t, err)
	require.NoError(t, db.Close())
}

func (c *smallCard) spoil(t *testing.T, names ...string) {
	for _, name := range names {
		require.NoError(t, os.WriteFile(filepath.Join(c.state, name), []byte(strings.Repeat("no record ", 1000)), 0o600))
	}
}

// failing is what is wrong with storage at the start or later, and how it is made
// well; nil where it cannot be.
type failing struct {
	start, later func(t *testing.T, c *smallCard)
	mend         func(t *testing.T, c *smallCard)
	told         string // what a message says of it
	caught       bool   // once mended the flood of the meantime is on record
	latched      bool   // nothing floods at all: what the guard knew is lost
	lost         bool   // at the end rows are lost, and it says so
}

func failings() map[string]failing {
	var unlock func(*testing.T)
	return map[string]failing{
		"full at the start":      {start: func(t *testing.T, c *smallCard) { c.fill(t) }, mend: func(t *testing.T, c *smallCard) { c.makeRoom(t) }, told: "full", caught: true},
		"full later":             {later: func(t *testing.T, c *smallCard) { c.fill(t) }, mend: func(t *testing.T, c *smallCard) { c.makeRoom(t) }, told: "full", caught: true},
		"read-only at the start": {start: func(t *testing.T, c *smallCard) { c.readOnly(t) }, mend: func(t *testing.T, c *smallCard) { c.writable(t) }, told: "read-only", caught: true},
		"gone later":             {later: func(t *testing.T, c *smallCard) { c.vanish(t) }, mend: func(t *testing.T, c *smallCard) { c.appear(t) }, told: "gone", caught: true},
		"deleted later":          {later: func(t *testing.T, c *smallCard) { c.wipe(t) }, told: "gone", lost: true},
		"locked at the start": {
			start:  func(t *testing.T, c *smallCard) { unlock = c.lock(t) },
			mend:   func(t *testing.T, _ *smallCard) { unlock(t) },
			told:   "lock",
			caught: true,
		},
		"damaged at the start": {start: func(t *testing.T, c *smallCard) { c.spoil(t, "ledger.db") }, told: "damaged"},
		"damaged with its copy at the start": {
			start: func(t *testing.T, c *smallCard) { c.spoil(t, "ledger.db", "witness.jsonl") }, told: "lost", latched: true,
		},
		"of a newer version at the start": {start: func(t *testing.T, c *smallCard) { c.edit(t, "PRAGMA user_version = 99") }, told: "newer", lost: true},
	}
}

// aHookedSite is the example with a webhook.
func aHookedSite(t *testing.T, url string) string {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "url"), []byte(url+"\n"), 0o600))
	text := strings.Replace(string(config.Example), "\nplans:", "\nmessages:\n  webhook: {url_file: url}\n\nplans:", 1)
	file := filepath.Join(dir, "bench.yaml")
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	return file
}

// toldWithin is how soon a person has to know of storage that fails.
const toldWithin = time.Minute

// paced is the speed of the bench: a flood takes seconds, storage its own time.
const paced = 300

func TestWhateverAilsStorageItIsToldAndEachAlarmArrives(t *testing.T) {
	from := kept(t)
	for name, f := range failings() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, h := newSmallCard(t, from), &hooked{}
			server := httptest.NewServer(h)
			t.Cleanup(server.Close)
			if f.start != nil {
				f.start(t, c)
			}
			p, err := newDaemon(program, c.state, paced, func(*daemon, string) {},
				"-c", aHookedSite(t, server.URL), "--fault", "drain-blocked:north", "--socket", filepath.Join(t.TempDir(), "s"))
			require.NoError(t, err)
			require.NoError(t, p.cmd.Start())
			p.started()
			t.Cleanup(func() { _ = p.cmd.Process.Kill(); _, _ = p.cmd.Process.Wait() })
			await(t, p, h, "the program serves", func() bool { return saidOf(p.said(), "metrics at") })
			since := time.Now()
			if f.later != nil {
				f.later(t, c)
			}

			alarm := "high-level" // the water rises as nothing drains it
			if f.latched {
				alarm = "state-lost"
			}
			await(t, p, h, "the alarm arrives", func() bool { return h.says("", alarm) != nil })
			var m *message
			await(t, p, h, "what ails storage is told", func() bool {
				m = h.says(f.told, "storage", "record", "state-lost")
				return m != nil
			})
			assert.Less(t, m.at.Sub(since), toldWithin)
			t.Logf("told after %s: %s", max(0, m.at.Sub(since)).Round(100*time.Millisecond), m.Data.Happened)
			assert.Equal(t, !f.latched, saidOf(p.said(), `"output":"flood_pump","on":true`), "it floods")
			if f.mend != nil {
				f.mend(t, c)
			}
			if f.caught {
				await(t, p, h, "storage is well again", func() bool { return !troubled(p) })
				await(t, p, h, "the flood is on record", func() bool { rows, err := p.rows(); return err == nil && len(rows) > 0 })
			}
			require.NoError(t, p.cmd.Process.Signal(syscall.SIGINT))
			<-p.read
			assert.Equal(t, f.lost, p.cmd.Wait() != nil, "whether rows are lost")
			assert.True(t, saidOf(p.said(), "all off") || f.lost && saidOf(p.said(), "are lost"), "it says how it ended")
		})
	}
}

// troubled reports whether the status says that storage fails.
func troubled(p *daemon) bool {
	var answer struct{ Record struct{ Trouble *string } }
	return p.get("status", &answer) != nil || answer.Record.Trouble != nil
}

// await waits for what the program is to do; longer than anybody would.
func await(t *testing.T, p *daemon, h *hooked, what string, done func() bool) {
	t.Helper()
	look := time.NewTicker(200 * time.Millisecond)
	defer look.Stop()
	end := time.NewTimer(100 * time.Second)
	defer end.Stop()
	for !done() {
		select {
		case <-look.C:
		case <-end.C:
			t.Fatalf("%s: not so; the program said\n%s\nand by messages\n%s", what, strings.Join(p.said(), "\n"), h.text())
		case <-p.read:
			t.Fatalf("%s: not so; the program ended and said\n%s", what, strings.Join(p.said(), "\n"))
		}
	}
}
