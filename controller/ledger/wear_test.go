package ledger

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/outbox"
)

// blockSize is what storage takes at once: the least that a change of one byte
// writes.
const blockSize = 4096

// meter counts what a directory costs the storage that it lies on: at each look
// the blocks of its files that are not as they were. Between two writes that are
// half a minute apart the kernel brings all of that to storage, also what is
// never synced. What the file system writes for itself is not counted.
type meter struct {
	t     testing.TB
	dir   string
	files map[string]snapshot
	bytes int64
	by    map[string]int64 // bytes by the name of the file
}

// snapshot is a file as it was at the last look.
type snapshot struct {
	info os.FileInfo
	data []byte
}

func (c *meter) look() {
	entries, err := os.ReadDir(c.dir)
	require.NoError(c.t, err)
	seen := make(map[string]snapshot)
	for _, e := range entries {
		path := filepath.Join(c.dir, e.Name())
		info, err := os.Stat(path)
		require.NoError(c.t, err)
		data, err := os.ReadFile(path)
		require.NoError(c.t, err)
		was := c.files[e.Name()]
		if was.info == nil || !os.SameFile(was.info, info) {
			was.data = nil
		}
		n := changed(was.data, data)
		c.bytes, c.by[e.Name()] = c.bytes+n, c.by[e.Name()]+n
		seen[e.Name()] = snapshot{info, data}
	}
	c.files = seen
}

// changed is the size of the blocks of now that are not as they were.
func changed(was, now []byte) (n int64) {
	for from := 0; from < len(now); from += blockSize {
		to := min(from+blockSize, len(now))
		if to > len(was) || !bytes.Equal(was[from:to], now[from:to]) || len(was) > to && len(now) == to {
			n += blockSize
		}
	}
	return n
}

// says has the messages written down, with an alarm that stands.
func says(t testing.TB, l *Ledger, n int, soon bool, waiting ...outbox.Message) {
	s := anOutbox()
	s.Alarms = json.RawMessage(fmt.Sprintf(`{"mono_ns":%d,"next_id":2,"alarms":[{"id":1,"text":%q}]}`, n, strings.Repeat("what happened, what was done and what is to be done ", 6)))
	s.Channels["mail"] = outbox.Channel{Sent: noon(1).Wall.Add(time.Duration(n) * time.Minute)}
	s.Waiting = waiting
	l.Keep(s, soon)
	if soon {
		require.NoError(t, l.Flush(t.Context()))
	}
}

// wearLimit is what a bench may cost a card a day.
const wearLimit = 300 << 10

func TestABenchCostsStorageLessThan300KiBADay(t *testing.T) {
	t.Parallel()
	s := newSite(t, "2026-04-10 00:30")
	dir := t.TempDir()
	l, _ := open(t, dir, s.options())
	c := &meter{t: t, dir: dir, by: make(map[string]int64)}
	s.begin(&paced{Ledger: l, t: t, world: s.world, stored: c.look}, nil, "boot")
	s.run(24 * time.Hour) // the rolling day of the guard fills up
	c.look()
	c.bytes, c.by = 0, make(map[string]int64)
	const days = 14 // the log is folded in meanwhile
	for day := range days {
		for quarter := range 4 { // each with a flood, which the digest counts
			s.run(6 * time.Hour)
			says(t, l, 4*day+quarter, false)
		}
		for _, waiting := range [][]outbox.Message{{aMessage(1, "mail")}, nil} { // and a message a day, which goes out
			says(t, l, day, true, waiting...)
			c.look()
		}
		s.world.Refill(0, 1)
	}
	daily := c.bytes / days
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	t.Logf("4 floods and a message a day on one bench: %d KiB a day written to storage (%d floods recorded)", daily/1024, len(rows))
	for name, n := range c.by {
		t.Logf("%s: %.1f KiB a day", name, float64(n)/days/1024)
	}
	assert.Greater(t, len(rows), 4*days)
	assert.Positive(t, daily)
	assert.Less(t, daily, int64(wearLimit))
}
