package ledger

import (
	"bufio"
	"bytes"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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

// wearLimit is what a bench may cost a card a day.
const wearLimit = 1 << 20

func TestABenchCostsStorageLessThanAMebibyteADay(t *testing.T) {
	s := newSite(t, "2026-04-10 00:30")
	l, _ := open(t, t.TempDir(), s.options())
	s.begin(&paced{Ledger: l, t: t, world: s.world}, nil, "boot")
	s.run(24 * time.Hour) // the rolling day of the guard fills up
	before := written(t)
	const days = 7
	for range days {
		s.run(24 * time.Hour)
		s.world.Refill(0, 1)
	}
	daily := (written(t) - before) / days
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	t.Logf("4 floods a day on one bench: %d KiB a day written to storage (%d floods recorded)", daily/1024, len(rows))
	assert.Positive(t, daily)
	assert.Less(t, daily, int64(wearLimit))
}
