package daemon

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/safety"
)

// The least that five years of a bench have to be read in, and stay under.
const (
	historyLimit = 200 * time.Millisecond
	ledgerLimit  = 16.0 // MiB
)

// BenchmarkHistory is the command itself, from its start to its end, asking a
// daemon about the last 30 days of five years.
func BenchmarkHistory(b *testing.B) {
	state := b.TempDir()
	floods := fiveYears(b, state, time.Now())
	require.Equal(b, 5*365*8, floods)
	info, err := os.Stat(filepath.Join(state, "ledger.db"))
	require.NoError(b, err)
	size := float64(info.Size()) / (1 << 20)
	p := start(b, "run", "--state", state, "--listen", "127.0.0.1:0")
	p.until(metricsAt)
	args := []string{"history", "--last", "30d", "--socket", filepath.Join(state, cli.SocketName)}
	var worked time.Duration
	for b.Loop() {
		command := exec.Command("benchtide", args...)
		said, err := command.CombinedOutput()
		require.NoError(b, err, string(said))
		require.Equal(b, 30*8, strings.Count(string(said), "proven"))
		worked += command.ProcessState.UserTime() + command.ProcessState.SystemTime()
	}
	b.ReportMetric(1000*worked.Seconds()/float64(b.N), "cpu-ms/op") // of the command, whatever else the machine does
	b.ReportMetric(size, "MiB")
	require.Zero(b, p.end(os.Interrupt))
	require.Less(b, size, ledgerLimit)
	require.Less(b, b.Elapsed()/time.Duration(b.N), historyLimit)
}

// fiveYears leaves the ledger of a bench that flooded eight times a day, the
// newest an hour ago, and says how many floods that were.
func fiveYears(t testing.TB, dir string, now time.Time) (floods int) {
	site, problems := config.Parse(cli.ExampleName, config.Example)
	require.NoError(t, problems.Err())
	l, _, err := ledger.Open(dir, ledger.Options{Limits: site.Limits(), Zone: site.Zone})
	require.NoError(t, err)
	const perDay, days = 8, 5 * 365
	for floods < perDay*days {
		floods++
		due := now.Add(-time.Hour - time.Duration(perDay*days-floods)*24*time.Hour/perDay)
		recordFlood(l, int64(floods), due)
		if floods%1000 == 0 {
			require.NoError(t, l.Flush(t.Context()))
		}
	}
	require.NoError(t, l.Close())
	return floods
}

// recordFlood records what the loop does of one flood.
func recordFlood(l *ledger.Ledger, id int64, due time.Time) {
	f := controller.Flood{
		ID: id, Due: due, Cause: controller.BySchedule, Hold: 8 * time.Minute, Strength: 1, Intended: true, Started: due.Add(time.Second),
	}
	at := func(after time.Duration) safety.Now { return safety.Now{Wall: due.Add(after), Trusted: true} }
	event := func(k controller.EventKind, after time.Duration) controller.Event {
		return controller.Event{Kind: k, At: at(after), Output: -1, Flood: f}
	}
	pump := func(on bool, after time.Duration) controller.Event {
		return controller.Event{Kind: controller.OutputChanged, At: at(after), Bench: -1, On: on}
	}
	l.Record([]controller.Event{event(controller.FloodIntended, 0), event(controller.PumpStarted, time.Second), pump(true, time.Second)}, nil)
	f.Fill, f.Stood, f.Fall, f.Run, f.Litres, f.Counted = 3*time.Minute, 8*time.Minute, 2*time.Minute, 11*time.Minute, 58, true
	l.Record([]controller.Event{event(controller.FullMade, f.Fill), pump(false, f.Run), event(controller.PumpStopped, f.Run)}, nil)
	f.Outcome, f.Ended = controller.Proven, due.Add(24*time.Minute)
	l.Record([]controller.Event{event(controller.FloodEnded, 24*time.Minute)}, nil)
}
