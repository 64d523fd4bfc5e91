//go:build boardtest

package boardtest

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/deploy/boardtest/console"
	"benchtide/hw/sim"
)

// twoBenches is the site of all cases but the one that measures.
//
//go:embed site.yaml
var twoBenches []byte

// theKit is made once for all cases.
var theKit kit

func TestMain(m *testing.M) {
	os.Exit(prepared(m))
}

func prepared(m *testing.M) int {
	dir, err := os.MkdirTemp("", "boardtest")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	theKit, err = findKit(os.Getenv("BOARDTEST_KERNEL"), os.Getenv("BOARDTEST_INIT"), os.Getenv("BOARDTEST_PROGRAM"), dir)
	if err != nil {
		fmt.Fprintln(os.Stderr, "make the board's files:", err, "(the script run sets what is needed)")
		return 1
	}
	return m.Run()
}

const sitePath = "/etc/benchtide/bench.yaml"

// shipped is the service as its unit file has it, but for two things: the log
// is JSON, to be read by the cases, and state is on the card where there is one.
func (r *rig) shipped() console.Service {
	r.t.Helper()
	text, err := os.ReadFile("../systemd/benchtide.service")
	require.NoError(r.t, err)
	s, err := parseUnit(string(text))
	require.NoError(r.t, err)
	s.Start = append(s.Start, "--json", "--attended")
	if r.card != "" {
		s.Env = append(s.Env, "STATE_DIRECTORY="+stateDir)
	}
	return s
}

// stateDir is on the card.
const stateDir = "/card/benchtide"

// rig is one case: a site, the world around it, and a board at a time.
type rig struct {
	t       *testing.T
	file    []byte
	site    *config.Site
	outside *Outside
	board   *Machine
	card    string // image of the SD card; "" without one
	clock   clock
	days    int // how often the clock was set
}

func newRig(t *testing.T, file []byte) *rig {
	site, problems := config.Parse("site.yaml", file)
	require.Empty(t, problems.Errors())
	outside, err := NewOutside(site)
	require.NoError(t, err)
	r := &rig{t: t, file: file, site: site, outside: outside}
	t.Cleanup(func() {
		r.powerCut()
		if err := outside.Err(); err != nil {
			t.Errorf("outside the board: %v", err)
		}
	})
	return r
}

// powerOn boots a board with the site's file on it.
func (r *rig) powerOn() {
	r.t.Helper()
	dir, err := os.MkdirTemp("", "board") // short, for the sockets in it
	require.NoError(r.t, err)
	r.t.Cleanup(func() {
		if r.t.Failed() {
			r.t.Log("the board's files are kept in ", dir)
			return
		}
		_ = os.RemoveAll(dir)
	})
	r.board, err = boot(r.t.Context(), theKit, dir, r.card, r.clock, r.outside.Attach)
	require.NoError(r.t, err)
	r.do(console.Request{Do: "put", Args: []string{sitePath}, Data: string(r.file)})
	if r.card != "" {
		r.do(console.Request{Do: "mount", Args: append([]string{"/dev/mmcblk0", "/card"}, diskModules...)})
	}
}

func (r *rig) powerCut() {
	if r.board == nil {
		return
	}
	r.board.PowerCut()
	r.outside.Detach()
	r.board = nil
}

func (r *rig) within(d time.Duration) (context.Context, context.CancelFunc) {
	return context.WithTimeout(r.t.Context(), d)
}

func (r *rig) do(request console.Request) string {
	r.t.Helper()
	ctx, cancel := r.within(30 * time.Second)
	defer cancel()
	answer, err := r.board.Do(ctx, request)
	require.NoError(r.t, err)
	return answer
}

// serve starts the daemon and waits until its loop runs.
func (r *rig) serve() {
	r.t.Helper()
	s, from := r.shipped(), r.mark()
	r.do(console.Request{Do: "serve", Service: &s})
	r.await(from, time.Minute, "log", "metrics at")
}

// setClock brings the board to a time before the slot, as a time daemon would
// once the network is up: on the next day each time, since a slot is flooded
// once.
func (r *rig) setClock(slot string, before time.Duration) {
	r.t.Helper()
	r.days++
	r.stepClock(slot, before)
}

// stepClock is setClock on the same day.
func (r *rig) stepClock(slot string, before time.Duration) {
	r.t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", "2026-03-09 "+slot, r.site.Zone)
	require.NoError(r.t, err)
	at = at.AddDate(0, 0, r.days).Add(-before)
	r.do(console.Request{Do: "clock", Args: []string{strconv.FormatInt(at.UnixNano(), 10)}})
}

func (r *rig) mark() int { return len(r.board.Events()) }

func (r *rig) await(from int, limit time.Duration, event, text string) int {
	r.t.Helper()
	ctx, cancel := r.within(limit)
	defer cancel()
	n, err := r.board.Await(ctx, from, event, text)
	if err != nil {
		r.tellEvents(from)
	}
	require.NoError(r.t, err)
	return n
}

func (r *rig) tellEvents(from int) {
	for _, e := range r.board.Events()[from:] {
		r.t.Logf("%s %s %s", e.At.Format(stampFormat), e.Event, e.Text)
	}
}

// entry is a line of the daemon's log.
type entry struct {
	At        time.Time // host clock, when it came out
	Event     string    `json:"event"`
	Text      string    `json:"msg"`
	Bench     string    `json:"bench"`
	Flood     int64     `json:"flood"`
	Interlock string    `json:"interlock"`
	Outcome   string    `json:"outcome"`
	Reason    string    `json:"reason"`
}

// log returns the daemon's log from an event on.
func (r *rig) log(from int) []entry {
	var all []entry
	for _, e := range r.board.Events()[from:] {
		var line entry
		if e.Event == "log" && json.Unmarshal([]byte(e.Text), &line) == nil {
			line.At = e.At
			all = append(all, line)
		}
	}
	return all
}

func (r *rig) awaitEntry(from int, limit time.Duration, what string, is func(entry) bool) entry {
	r.t.Helper()
	for end := time.Now().Add(limit); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		for _, e := range r.log(from) {
			if is(e) {
				return e
			}
		}
	}
	r.tellEvents(from)
	require.Fail(r.t, "did not come: "+what)
	return entry{}
}

// awaitEnded waits for the end of a bench's flood.
func (r *rig) awaitEnded(from int, limit time.Duration, bench string) entry {
	r.t.Helper()
	return r.awaitEntry(from, limit, "the end of a flood on "+bench, func(e entry) bool {
		return e.Event == "flood ended" && e.Bench == bench
	})
}

func (r *rig) awaitPump(from int, limit time.Duration, bench string) entry {
	r.t.Helper()
	return r.awaitEntry(from, limit, "the pump of "+bench, func(e entry) bool {
		return e.Event == "pump started" && e.Bench == bench
	})
}

// metric returns one sample of /metrics.
func (r *rig) metric(name string) float64 {
	r.t.Helper()
	for line := range strings.Lines(r.do(console.Request{Do: "get", Args: []string{"http://127.0.0.1:8347/metrics"}})) {
		if value, ok := strings.CutPrefix(line, name+" "); ok {
			v, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
			require.NoError(r.t, err)
			return v
		}
	}
	require.Fail(r.t, "no sample of "+name)
	return 0
}

func (r *rig) writes() []Write {
	r.t.Helper()
	w, err := r.board.Writes()
	require.NoError(r.t, err)
	return w
}

func (r *rig) relay(name string) Relay {
	for _, relay := range r.outside.relays {
		if relay.Name == name {
			return relay
		}
	}
	require.Fail(r.t, "no relay "+name)
	return Relay{}
}

// circuits are those of both pumps.
func (r *rig) circuits() map[string]Circuit {
	return map[string]Circuit{
		"on_low":  {r.relay("low_pump"), r.relay("enable")},
		"on_high": {r.relay("high_pump"), r.relay("enable")},
	}
}

func (r *rig) inject(f sim.Fault) {
	r.t.Helper()
	require.NoError(r.t, r.outside.Do(func(w *sim.World) error { return w.Inject(f) }))
}

func (r *rig) truth() (truth sim.Truth) {
	require.NoError(r.t, r.outside.Do(func(w *sim.World) error { truth = w.Truth(); return nil }))
	return truth
}

// requireDry checks that nothing spilled and that no water got lost.
func (r *rig) requireDry() {
	r.t.Helper()
	for _, b := range r.truth().Benches {
		require.Zero(r.t, b.Spilled, "spilled by %s", b.Name)
	}
}
