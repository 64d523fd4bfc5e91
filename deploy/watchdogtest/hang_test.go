//go:build watchdogtest

package watchdogtest

import (
	_ "embed"
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/deploy/boardtest/console"
)

//go:embed site.yaml
var site string

// Of the daemon: its watchdog's timeout, how often it feeds, and how far apart
// its turns are at most.
const (
	timeout   = 15 * time.Second
	feedEvery = time.Second
	turn      = 250 * time.Millisecond
)

// slack is for a busy host, on which messages and timers come late.
const slack = 2 * time.Second

const within = time.Minute // ample for a boot, or a start of the daemon

func TestALoopThatHangsInMidFillEndsInAResetWithEverythingOff(t *testing.T) {
	m := powerOn(t, hostTime)
	ready := m.serve(0)
	m.floodOnceAllowed(ready)
	filling := m.await(ready, within, "log", `"event":"pump started"`)
	time.Sleep(2 * time.Second) // of the ten or so of a fill
	require.Equal(t, "1", m.metric("benchtide_output_on", "pump"))

	m.do(console.Request{Do: "signal", Args: []string{strconv.Itoa(int(syscall.SIGSTOP))}})
	hung := time.Now()
	require.Greater(t, hung.Sub(m.events[ready].at), timeout, "the daemon has to have been kept alive by its own feeding")
	mark := len(m.events)
	for _, e := range m.events[filling:] {
		require.NotContains(t, e.Text, `"event":"pump stopped"`, "the hang came after the fill")
	}

	bitten, data := m.emulator.await("WATCHDOG", 2*timeout)
	require.Equal(t, "reset", data["action"])
	t.Logf("the loop hung with the pump on for %.1f s; the machine was reset %.2f s after",
		hung.Sub(m.events[filling].at).Seconds(), bitten.Sub(hung).Seconds())
	require.WithinRange(t, bitten, hung.Add(timeout-feedEvery-turn-slack), hung.Add(timeout+slack))

	ready = m.serve(mark)
	t.Logf("the daemon was up again, every output off, %.1f s after the hang", m.events[ready].at.Sub(hung).Seconds())
	m.requireAllOff()
	m.requireInterrupted()
	text, refused := m.flood()
	require.NotEmpty(t, refused, "a flood right after the reset: %s", text)
	require.Contains(t, text, "resting between floods", "the table may hold what the pump has brought")
	for _, e := range m.events[mark:] {
		require.NotContains(t, e.Text, `"on":true`, "an output went on")
	}
	m.requireDisarmedByAStop()
}

// serve waits for a boot, mounts the disk, starts the daemon and returns the
// number of the event that says it is ready: one good turn is done.
func (m *machine) serve(from int) int {
	m.t.Helper()
	up := m.await(from, 2*within, "up", "")
	m.do(console.Request{Do: "mount", Args: append([]string{"/dev/vda", "/state"}, strings.Fields(os.Getenv("WATCHDOGTEST_MODULES"))...)})
	m.do(console.Request{Do: "put", Args: []string{"/etc/site.yaml"}, Data: site})
	m.do(console.Request{Do: "serve", Service: &console.Service{
		Start: []string{"/usr/bin/benchtide", "run", "-c", "/etc/site.yaml", "--state", "/state/benchtide", "--socket", socket,
			"--watchdog", "/dev/watchdog0", "--json"},
	}})
	return m.await(up, within, "ready", "")
}

const socket = "/run/benchtide.sock"

// benchtide asks the daemon by its command line.
func (m *machine) benchtide(command string, args ...string) (string, string) {
	m.t.Helper()
	return m.ask(console.Request{Do: "run", Args: append([]string{"/usr/bin/benchtide", command, "--socket", socket}, args...)})
}

func (m *machine) flood() (text, refused string) {
	m.t.Helper()
	return m.benchtide("flood")
}

// floodOnceAllowed starts a flood as soon as the guard counts the table as
// empty.
func (m *machine) floodOnceAllowed(ready int) {
	m.t.Helper()
	for m.t.Context().Err() == nil {
		text, refused := m.flood()
		if refused == "" {
			return
		}
		require.Contains(m.t, text, "resting between floods")
		require.Less(m.t, time.Since(m.events[ready].at), within)
		time.Sleep(time.Second)
	}
}

// metric reads the value of a metric of an output.
func (m *machine) metric(name, output string) string {
	m.t.Helper()
	text := m.do(console.Request{Do: "get", Args: []string{"http://127.0.0.1:8347/metrics"}})
	_, rest, found := strings.Cut(text, name+`{output="`+output+`"} `)
	require.True(m.t, found, "%s of %s", name, output)
	value, _, _ := strings.Cut(rest, "\n")
	return value
}

func (m *machine) requireAllOff() {
	m.t.Helper()
	for _, output := range []string{"enable", "pump"} {
		assert.Equal(m.t, "0", m.metric("benchtide_output_on", output), output)
		assert.Equal(m.t, "0", m.metric("benchtide_output_run_seconds_total", output), output)
	}
}

// requireInterrupted looks for the one flood in the ledger.
func (m *machine) requireInterrupted() {
	m.t.Helper()
	text, failed := m.benchtide("history", "--json")
	require.Empty(m.t, failed, text)
	var history struct{ Floods []controller.Row }
	require.NoError(m.t, json.Unmarshal([]byte(text), &history), text)
	require.Len(m.t, history.Floods, 1)
	f := history.Floods[0]
	require.Equal(m.t, controller.Interrupted, f.Outcome)
	m.t.Logf("the ledger says: %s, %s", f.Outcome, f.Reason)
}

// requireDisarmedByAStop stops the daemon, which has nothing on, and sees the
// machine outlive the watchdog.
func (m *machine) requireDisarmedByAStop() {
	m.t.Helper()
	mark := len(m.events)
	m.do(console.Request{Do: "stop"})
	m.await(mark, within, "log", "all off")
	time.Sleep(timeout + slack)
	m.do(console.Request{Do: "stamp"})
	for _, e := range m.events[mark:] {
		require.NotEqual(m.t, "up", e.Event, "a daemon that stopped in order left its watchdog armed")
	}
}
