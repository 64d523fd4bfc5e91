package ledger

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/outbox"
)

// written is how many bytes this process has caused to be written to storage,
// by the kernel's account.
func written(t testing.TB) int64 {
	data, err := os.ReadFile("/proc/self/io")
	if err != nil {
		t.Skipf("the kernel does not say what was written: %v", err)
	}
	for lines := bufio.NewScanner(bytes.NewReader(data)); lines.Scan(); {
		if n, ok := strings.CutPrefix(lines.Text(), "write_bytes: "); ok {
			bytes, err := strconv.ParseInt(n, 10, 64)
			require.NoError(t, err)
			return bytes
		}
	}
	t.Skip("the kernel does not say what was written")
	return 0
}

// storage is a directory whose files do not live in memory, as those of /tmp
// may: then it is one beside this test.
func storage(t testing.TB) string {
	for _, parent := range []string{"", "."} {
		dir, err := os.MkdirTemp(parent, "storage")
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
		if writes(t, dir) {
			return dir
		}
	}
	t.Skip("neither /tmp nor this directory is on storage: set TMPDIR to one that is")
	return ""
}

// writes reports whether what is written into dir reaches storage.
func writes(t testing.TB, dir string) bool {
	before := written(t)
	f, err := os.Create(filepath.Join(dir, "probe"))
	require.NoError(t, err)
	_, err = f.Write(make([]byte, 1<<16))
	require.NoError(t, errors.Join(err, f.Sync(), f.Close()))
	return written(t) > before
}

// says has the messages written down, with an alarm that stands.
func says(t testing.TB, l *Ledger, n int, soon bool, waiting ...outbox.Parcel) {
	s := anOutbox()
	s.Alarms = json.RawMessage(fmt.Sprintf(`{"mono_ns":%d,"next_id":2,"alarms":[{"id":1,"text":%q}]}`, n, strings.Repeat("what happened, what was done and what is to be done ", 6)))
	s.Ways["mail"] = outbox.Way{Sent: noon(1).Wall.Add(time.Duration(n) * time.Minute)}
	s.Waiting = waiting
	l.Keep(s, soon)
	if soon {
		require.NoError(t, l.Flush(t.Context()))
	}
}

// wearLimit is what a bench may cost a card a day.
const wearLimit = 1 << 20

func TestABenchCostsStorageLessThanAMebibyteADay(t *testing.T) {
	s := newSite(t, "2026-04-10 00:30")
	l, _ := open(t, storage(t), s.options())
	s.begin(&paced{Ledger: l, t: t, world: s.world}, nil, "boot")
	s.run(24 * time.Hour) // the rolling day of the guard fills up
	before := written(t)
	const days = 7
	for day := range days {
		for quarter := range 4 { // each with a flood, which the digest counts
			s.run(6 * time.Hour)
			says(t, l, 4*day+quarter, false)
		}
		says(t, l, day, true, aParcel(1, "mail")) // and a message a day, which goes out
		says(t, l, day, true)
		s.world.Refill(0, 1)
	}
	daily := (written(t) - before) / days
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	t.Logf("4 floods and a message a day on one bench: %d KiB a day written to storage (%d floods recorded)", daily/1024, len(rows))
	assert.Positive(t, daily)
	assert.Less(t, daily, int64(wearLimit))
}
