package daemon

import (
	"bufio"
	"flag"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/web"
)

// The long form measures: -clients 200 -watch 2m -benches 32 -strict -v.
var (
	clients = flag.Int("clients", 20, "event-stream clients of TestEventStreamsLeaveTheLoopAlone")
	watch   = flag.Duration("watch", 2*time.Second, "how long it watches the loop with them, and how many turns without")
	benches = flag.Int("benches", 1, "benches of its site")
	strict  = flag.Bool("strict", false, "judge the delay of the loop as on an idle machine")
)

// turnsASecond is how often the loop of a flooding site turns.
const turnsASecond = 100

// listeners is a program of its own: so many event streams of an address, for so
// long. It prints how many snapshots each saw at least and at most.
func listeners() {
	url, n, d := os.Args[1], must(strconv.Atoi(os.Args[2])), must(time.ParseDuration(os.Args[3]))
	seen := make([]int, n)
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			client := http.Client{Timeout: d} // an answer that goes on is cut then
			response, err := client.Get(url)
			if err != nil {
				return
			}
			defer response.Body.Close()
			for lines := bufio.NewScanner(response.Body); lines.Scan(); {
				if strings.HasPrefix(lines.Text(), "event: status") {
					seen[i]++
				}
			}
		})
	}
	all.Wait()
	fmt.Println(slices.Min(seen), slices.Max(seen))
}

func must[T any](v T, err error) T {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(cli.ExitUsage)
	}
	return v
}

// delays keeps how late the turns of a loop came.
type delays struct {
	mu     sync.Mutex
	late   []time.Duration
	enough int           // that many are waited for
	filled chan struct{} // closed when they have come
}

// Turn leaves out the turns that somebody's act brought early: they are late for
// nothing, and would make the others look rarer than they are.
func (d *delays) Turn(t *loop.Turn) {
	if t.Delay == 0 {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.late = append(d.late, t.Delay)
	if len(d.late) == d.enough {
		close(d.filled)
	}
}

// of begins anew and waits for n turns.
func (d *delays) of(n int) []time.Duration {
	d.mu.Lock()
	d.late, d.enough, d.filled = nil, n, make(chan struct{})
	filled := d.filled
	d.mu.Unlock()
	<-filled
	return d.take()
}

// take returns them in order of size, and begins anew.
func (d *delays) take() []time.Duration {
	d.mu.Lock()
	defer d.mu.Unlock()
	late := d.late
	d.late, d.enough = nil, 0
	slices.Sort(late)
	return late
}

// at is a quantile.
func at(late []time.Duration, q float64) time.Duration { return late[rank(late, q)] }

func rank(late []time.Duration, q float64) int {
	return min(len(late)-1, int(q*float64(len(late))))
}

// judge prints how late turns came, and holds them to what a pump may stand: a
// turn that comes later than stalled would end every run and latch its bench. A
// machine that is late without anybody's doing is given four times that. With
// -strict the figures are those of an idle machine: of fewer turns than a thousand
// the quantile is the latest of all, and it takes ten thousand to mean much.
func judge(t *testing.T, what string, late, without []time.Duration) {
	most, often := late[len(late)-1], at(late, 0.999)
	t.Logf("%s, %d benches: %d turns, delay p50 %s p99 %s p99.9 %s most %s; %d turns were later than p99.9",
		what, *benches, len(late), at(late, 0.5), at(late, 0.99), often, most, len(late)-1-rank(late, 0.999))
	assert.Less(t, most, max(stalled, 4*without[len(without)-1]), "%s: a turn came too late for a running pump", what)
	if *strict {
		assert.LessOrEqual(t, often, 20*time.Millisecond, what)
		assert.LessOrEqual(t, most, 250*time.Millisecond, what)
	}
}

// stalled is how late a turn may come while a pump runs.
const stalled = time.Second

// flooding is a running daemon with a flood under way on its first bench, at an
// address, and how late its turns come.
func flooding(t *testing.T, dir string, benches int) (d *delays, daemon *daemon, url string) {
	d = &delays{}
	daemon = runningIn(t, dir, many(t, benches), d)
	server := web.NewServer(web.Harden(daemon.handler()))
	address, err := listenFlags{Listen: "127.0.0.1:0"}.listen()
	require.NoError(t, err)
	go func() { _ = server.Serve(address) }()
	t.Cleanup(func() { _ = server.Close() })
	require.NoError(t, daemon.live.Flood(t.Context(), 0, 6*time.Minute, controller.Asker{}))
	require.Eventually(t, func() bool {
		st, err := daemon.live.Status(t.Context())
		return err == nil && st.Benches[0].Phase == "filling"
	}, patience, 10*time.Millisecond)
	return d, daemon, "http://" + address.Addr().String()
}

// TestEventStreamsLeaveTheLoopAlone watches the loop of a site that is flooding,
// a hundred turns a second, without and with clients in a process of their own.
func TestEventStreamsLeaveTheLoopAlone(t *testing.T) {
	d, _, url := flooding(t, t.TempDir(), *benches)
	without := d.of(int(watch.Seconds() * turnsASecond))
	out, err := exec.Command("listeners", url+"/api/v1/events", fmt.Sprint(*clients), watch.String()).Output()
	require.NoError(t, err)
	with := d.take()

	var least, most int
	_, err = fmt.Sscan(string(out), &least, &most)
	require.NoError(t, err)
	assert.Positive(t, least, "every client is served")
	assert.Greater(t, len(without), int(watch.Seconds()*10), "the pump is watched")
	assert.Greater(t, len(with), len(without)/2, "and goes on being so")
	judge(t, "without clients", without, without)
	judge(t, fmt.Sprintf("with %d clients", *clients), with, without)
	t.Logf("snapshots a client saw in %s: %d to %d", *watch, least, most)
}
