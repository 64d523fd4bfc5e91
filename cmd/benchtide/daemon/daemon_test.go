package daemon

import (
	"bufio"
	"crypto/sha256"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

// patience is how long the real program may take over anything.
const patience = 60 * time.Second

// program is the real program under way; both its outputs go to one pipe.
type program struct {
	t       testing.TB
	cmd     *exec.Cmd
	out     *os.File
	scanner *bufio.Scanner
	said    []string
}

func start(t testing.TB, args ...string) *program {
	r, w, err := os.Pipe()
	require.NoError(t, err)
	p := &program{t: t, cmd: exec.Command("benchtide", args...), out: r, scanner: bufio.NewScanner(r)}
	p.cmd.Dir = t.TempDir()
	p.cmd.Stdout, p.cmd.Stderr = w, w
	require.NoError(t, p.cmd.Start())
	require.NoError(t, w.Close())
	require.NoError(t, r.SetReadDeadline(time.Now().Add(patience)))
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill() // it has ended unless the test failed
		_ = p.out.Close()
	})
	return p
}

// until reads lines up to the one that matches, and returns what its group
// matched.
func (p *program) until(pattern string) string {
	p.t.Helper()
	re := regexp.MustCompile(pattern)
	for p.scanner.Scan() {
		p.said = append(p.said, p.scanner.Text())
		if m := re.FindStringSubmatch(p.scanner.Text()); m != nil {
			return m[len(m)-1]
		}
	}
	require.Failf(p.t, "never said", "%q; it said:\n%s", pattern, strings.Join(p.said, "\n"))
	return ""
}

// end signals the program, lets it say its last and returns its exit code.
func (p *program) end(s os.Signal) int {
	require.NoError(p.t, p.cmd.Process.Signal(s))
	for p.scanner.Scan() {
		p.said = append(p.said, p.scanner.Text())
	}
	_ = p.cmd.Wait() // the code tells
	return p.cmd.ProcessState.ExitCode()
}

const metricsAt = `metrics at (https?://\S+)`

func scrapeFrom(t *testing.T, url string) string {
	t.Helper()
	response, err := http.Get(url)
	require.NoError(t, err)
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, response.StatusCode)
	return string(body)
}

func sample(t *testing.T, page, series string) float64 {
	t.Helper()
	_, rest, found := strings.Cut(page, "\n"+series+" ")
	require.True(t, found, series)
	text, _, _ := strings.Cut(rest, "\n")
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

func TestDemoProvesAFloodAndItsPumpTimeGrowsOnlyWhileThePumpRuns(t *testing.T) {
	t.Parallel()
	p := start(t, "demo", "--speed", "1000", "--listen", "127.0.0.1:0")
	url := p.until(metricsAt)

	type reading struct{ on, starts, ran float64 }
	var last reading
	grew := 0
	for begun := time.Now(); ; {
		require.Less(t, time.Since(begun), patience)
		page := scrapeFrom(t, url)
		r := reading{
			on:     sample(t, page, `benchtide_output_on{output="flood_pump"}`),
			starts: sample(t, page, `benchtide_output_starts_total{output="flood_pump"}`),
			ran:    sample(t, page, `benchtide_output_run_seconds_total{output="flood_pump"}`),
		}
		require.GreaterOrEqual(t, r.ran, last.ran, "it fell")
		if r.ran > last.ran {
			grew++
			require.True(t, r.on == 1 || last.on == 1 || r.starts > last.starts, "it grew with the pump off: %+v then %+v", last, r)
		}
		last = r
		if sample(t, page, `benchtide_floods_total{bench="north",outcome="proven"}`) == 1 {
			break
		}
	}
	assert.Greater(t, grew, 1, "it grew in steps while the pump ran")

	on := p.until(`^time=(\S+) .*msg="flood_pump on"`)
	off := p.until(`^time=(\S+) .*msg="flood_pump off"`)
	assert.InDelta(t, between(t, on, off), last.ran, 0.01)
	p.until(`msg="flood proven: .* event="flood ended" .*outcome=proven`)

	assert.Equal(t, 0, p.end(syscall.SIGINT))
	assert.Equal(t, "all off", p.said[len(p.said)-1])
}

// between is the seconds from one log time to another.
func between(t *testing.T, from, to string) float64 {
	t.Helper()
	a, err := time.Parse(time.RFC3339Nano, from)
	require.NoError(t, err)
	b, err := time.Parse(time.RFC3339Nano, to)
	require.NoError(t, err)
	return b.Sub(a).Seconds()
}

func TestDemoThatIsStoppedInAFloodPutsThePumpOffFirst(t *testing.T) {
	t.Parallel()
	p := start(t, "demo", "--speed", "1000", "--listen", "127.0.0.1:0", "--json")
	p.until(`"msg":"FULL made`)
	before := len(p.said)
	assert.Equal(t, 0, p.end(syscall.SIGHUP), "its terminal has gone away")
	last := strings.Join(p.said[before:], "\n")
	assert.Regexp(t, `"output":"flood_pump","on":false`, last)
	assert.Regexp(t, `"output":"enable","on":false`, last)
	assert.Regexp(t, `"outcome":"interrupted","reason":"the program was stopped"`, last)
	assert.Regexp(t, `all off$`, last)
}

func TestRunKeepsASimulatedBenchInRealTimeUntilItIsTerminated(t *testing.T) {
	t.Parallel()
	p := start(t, "run", "--listen", "127.0.0.1:0")
	url := p.until(metricsAt)
	p.until(`msg="air on"`)
	page := scrapeFrom(t, url)
	assert.Equal(t, 1.0, sample(t, page, `benchtide_output_on{output="air"}`))
	assert.Equal(t, 0.0, sample(t, page, `benchtide_output_on{output="enable"}`))
	assert.Greater(t, sample(t, page, "process_resident_memory_bytes"), 0.0)
	assert.Equal(t, 0, p.end(syscall.SIGTERM))
	assert.Equal(t, "all off", p.said[len(p.said)-1])
	assert.Contains(t, strings.Join(p.said, "\n"), "The record of floods goes with the program")
}

func TestASecondDaemonOnTheSameAddressSwitchesNothingOn(t *testing.T) {
	t.Parallel()
	first := start(t, "run", "--listen", "127.0.0.1:0")
	address := strings.TrimSuffix(strings.TrimPrefix(first.until(metricsAt), "http://"), "/metrics")

	second := exec.Command("benchtide", "run", "--listen", address)
	second.Dir = t.TempDir()
	said, err := second.CombinedOutput()
	require.Error(t, err)
	assert.Equal(t, 1, second.ProcessState.ExitCode())
	assert.Regexp(t, `the address is in use; stop the program that holds it.*Nothing was switched on`, string(said))
	assert.NotContains(t, string(said), "air on")

	assert.Equal(t, 0, first.end(os.Interrupt))
}

func TestAReaderThatGoesAwayDoesNotStopTheDaemon(t *testing.T) {
	t.Parallel()
	p := start(t, "demo", "--speed", "1000", "--listen", "127.0.0.1:0")
	url := p.until(metricsAt)
	require.NoError(t, p.out.Close())
	for begun := time.Now(); sample(t, scrapeFrom(t, url), `benchtide_floods_total{bench="north",outcome="proven"}`) < 1; {
		require.Less(t, time.Since(begun), patience)
	}
	assert.Equal(t, 0, p.end(os.Interrupt))
}

func TestAChangedFileComesIntoForceWhenNothingFloods(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file, state := filepath.Join(dir, "bench.yaml"), filepath.Join(dir, "state")
	write := func(text string) { require.NoError(t, os.WriteFile(file, []byte(text), 0o644)) }
	// No flood is near, whenever this runs.
	text := strings.Replace(string(config.Example), "transplanted: 2026-03-02", "transplanted: 2099-03-02", 1)
	write(text)
	p := start(t, "run", "-c", file, "--state", state, "--listen", "127.0.0.1:0")
	url := p.until(metricsAt)
	p.until(`msg="air on"`)

	write("benches: {")
	require.NoError(t, p.cmd.Process.Signal(syscall.SIGHUP))
	p.until(`read again and changes nothing`)
	p.until(`The changed file is not in force`)

	changed := strings.Replace(text, "Quarry Lane school greenhouse", "The other greenhouse", 1)
	write(changed)
	require.NoError(t, p.cmd.Process.Signal(syscall.SIGHUP))
	p.until(`comes into force when nothing floods`)
	p.until(`msg="air off"`)
	p.until(`The changed file is in force`)
	p.until(`msg="air on"`)
	assert.Contains(t, scrapeFrom(t, strings.Replace(url, "metrics", "api/v1/status", 1)), "The other greenhouse")
	settings := scrapeFrom(t, strings.Replace(url, "metrics", "api/v1/export?table=settings&format=jsonl", 1))
	require.Len(t, strings.Split(strings.TrimSpace(settings), "\n"), 2)
	assert.Contains(t, settings, `-site: {name: Quarry Lane school greenhouse`)
	assert.Contains(t, settings, `+site: {name: The other greenhouse`)
	for _, version := range []string{text, changed} {
		assert.Contains(t, settings, fmt.Sprintf(`"fingerprint":"%x"`, sha256.Sum256([]byte(version))))
	}

	require.NoError(t, p.cmd.Process.Signal(syscall.SIGHUP))
	p.until(`nothing has changed`)
	assert.Equal(t, 0, p.end(os.Interrupt))
}
