package daemon

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
)

// pollers is a program of its own: so many clients of an address, for so long. They
// look at the status, listen, scrape, and act on the second bench. It prints how
// many questions were answered, and how many of those that only look were refused.
func pollers() {
	url, n, d := os.Args[1], must(strconv.Atoi(os.Args[2])), must(time.ParseDuration(os.Args[3]))
	ctx, end := context.WithTimeout(context.Background(), d)
	defer end()
	var answered, refused atomic.Int64
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			pace := time.NewTicker(200 * time.Millisecond)
			defer pace.Stop()
			for k := i; ctx.Err() == nil; k++ {
				switch code := poll(ctx, url, i, k); {
				case code == 0: // nobody heard it to its end
				case code < http.StatusInternalServerError:
					answered.Add(1)
				case i%10 != 9:
					refused.Add(1)
				}
				select {
				case <-pace.C:
				case <-ctx.Done():
				}
			}
		})
	}
	all.Wait()
	fmt.Println(answered.Load(), refused.Load())
}

// acts are what the clients that act do, in turn.
var acts = []struct{ path, body string }{
	{"pause", `{"bench": "bench_1", "until": "1 s", "by": "a client"}`},
	{"acknowledge", `{}`},
	{"pause", `{"bench": "bench_1", "until": "1 h", "by": "a client"}`},
	{"resume", `{"bench": "bench_1"}`},
	{"stop", `{"bench": "bench_1"}`},
	{"diary", `{"kind": "note", "text": "the record is locked"}`},
}

// poll has client i put its k-th question, and returns the status of the answer.
func poll(ctx context.Context, url string, i, k int) (status int) {
	r, _ := http.NewRequestWithContext(ctx, http.MethodGet, url+[]string{"/api/v1/status", "/metrics", "/api/v1/events", "/api/v1/overview"}[i%4], nil)
	if i%10 == 9 {
		a := acts[k%len(acts)]
		r, _ = http.NewRequestWithContext(ctx, http.MethodPost, url+"/api/v1/"+a.path, strings.NewReader(a.body))
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("X-Benchtide", "act")
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0
	}
	defer answer.Body.Close()
	if n, _ := io.Copy(io.Discard, answer.Body); n == 0 { // a stream goes on until the end
		return 0
	}
	return answer.StatusCode
}

// lockAll locks every database in a directory for writing, as another program
// would, until the returned function is called.
func lockAll(t *testing.T, dir string) (unlock func()) {
	paths, err := filepath.Glob(filepath.Join(dir, "*.db"))
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	var locked []*sql.Conn
	for _, path := range paths {
		db, err := sql.Open("sqlite", path+"?_pragma=busy_timeout(10000)")
		require.NoError(t, err)
		t.Cleanup(func() { _ = db.Close() })
		c, err := db.Conn(context.Background())
		require.NoError(t, err)
		_, err = c.ExecContext(context.Background(), "BEGIN IMMEDIATE")
		require.NoError(t, err)
		locked = append(locked, c)
	}
	return func() {
		for _, c := range locked {
			_, err := c.ExecContext(context.Background(), "ROLLBACK")
			assert.NoError(t, err)
			assert.NoError(t, c.Close())
		}
	}
}

// TestNoTurnWaitsForARecordThatIsLocked floods one bench while another program
// keeps every database of the record locked, clients look, listen, scrape and
// act, and pauses of the other bench begin and end. Nothing trips, and the turns
// come as they do without.
func TestNoTurnWaitsForARecordThatIsLocked(t *testing.T) {
	dir := t.TempDir()
	d, daemon, url := flooding(t, dir, max(2, *benches))
	without := d.of(int(watch.Seconds() * turnsASecond))
	unlock := lockAll(t, dir)
	d.take()
	require.NoError(t, daemon.live.Pause(t.Context(), []int{1}, time.Now().Add(time.Hour+time.Second), "the test")) // its clock is an hour ahead
	out, err := exec.Command("pollers", url, fmt.Sprint(*clients), watch.String()).Output()
	require.NoError(t, err)
	with := d.take()
	st, err := daemon.live.Status(t.Context())
	require.NoError(t, err)
	assert.Positive(t, st.Record.Waiting, "nothing was written")
	unlock()

	assert.NotNil(t, st.Benches[0].Flood, "the flood goes on")
	for _, b := range st.Benches {
		assert.Empty(t, b.Latched, b.Name)
	}
	trips, err := daemon.live.Record().Trips(t.Context(), live.Query{})
	require.NoError(t, err)
	assert.Empty(t, trips)
	var answered, refused int
	_, err = fmt.Sscan(string(out), &answered, &refused)
	require.NoError(t, err)
	assert.Zero(t, refused, "whoever waits for his turn is served")
	assert.Greater(t, answered, *clients, "the clients are answered meanwhile")
	assert.Greater(t, len(with), int(watch.Seconds()), "the pump goes on being watched")
	judge(t, "with a record that can be written", without, without)
	judge(t, fmt.Sprintf("locked for %s, %d clients", *watch, *clients), with, without)
	t.Logf("%d answers", answered)
}
