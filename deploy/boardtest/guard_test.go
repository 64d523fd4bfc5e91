//go:build boardtest

package boardtest

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"benchtide/deploy/boardtest/console"
	"benchtide/hw/sim"
)

func TestAFloatOrWireThatFailsKeepsOrPutsThePumpOff(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		fault     sim.Fault
		bench     string // that has the fault
		interlock string
		outcome   string        // "" when the pump never runs within the case
		longest   time.Duration // FULL has to be made within 10 s: nobody timed these benches
	}{
		{"FULL stuck down", sim.Fault{What: "full-stuck-low", Where: "on_low"}, "on_low", "fill-window", "unproven", 10500 * time.Millisecond},
		{"FULL stuck up", sim.Fault{What: "full-stuck-high", Where: "on_high"}, "on_high", "not-empty", "", 0},
		{"wire of FULL open", sim.Fault{What: "wire-open", Where: "on_high.full"}, "on_high", "fill-window", "unproven", 10500 * time.Millisecond},
		{"wire of HIGH open", sim.Fault{What: "wire-open", Where: "on_low.high"}, "on_low", "high-level", "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := newRig(t, twoBenches)
			r.inject(c.fault)
			r.powerOn()
			r.serve()
			from := r.mark()
			r.setClock("10:00", time.Second)
			said := r.awaitEntry(from, 40*time.Second, c.interlock, func(e entry) bool {
				return e.Bench == c.bench && e.Interlock == c.interlock
			})
			t.Log(said.Text)
			if c.outcome != "" {
				require.Equal(t, c.outcome, r.awaitEnded(from, time.Minute, c.bench).Outcome)
			} else {
				time.Sleep(15 * time.Second) // past the time from which the table counts as empty
			}
			r.requireRun(c.bench, c.longest)
			r.do(console.Request{Do: "stop"})
			r.requireDry()
		})
	}
}

// requireRun checks that a bench's pump was energised once, for no longer than
// that, or never.
func (r *rig) requireRun(bench string, longest time.Duration) {
	r.t.Helper()
	spans := r.circuits()[bench].Energised(r.writes())
	if longest == 0 {
		require.Empty(r.t, spans)
		return
	}
	require.Len(r.t, spans, 1)
	require.False(r.t, spans[0].To.IsZero())
	require.LessOrEqual(r.t, spans[0].To.Sub(spans[0].From), longest)
}

// flood brings both benches to mid-fill.
func (r *rig) flood() {
	r.t.Helper()
	from := r.mark()
	r.setClock("10:00", time.Second)
	r.awaitPump(from, 30*time.Second, "on_low")
	r.awaitPump(from, 30*time.Second, "on_high")
	time.Sleep(time.Second)
}

func TestAKilledDaemonLeavesItsPumpsOff(t *testing.T) {
	t.Parallel()
	r := newRig(t, twoBenches)
	r.powerOn()
	r.serve()
	r.flood()
	from := r.mark()
	killed := time.Now()
	r.do(console.Request{Do: "signal", Args: []string{strconv.Itoa(int(unix.SIGKILL))}})
	r.await(from, 5*time.Second, "exited", "killed")
	r.await(from, 5*time.Second, "off", "fine")
	r.await(from, 20*time.Second, "log", "metrics at")
	time.Sleep(3 * time.Second)
	for bench, opened := range r.requireOff(killed, time.Second) {
		require.True(t, letGo(r.writes(), r.circuits()[bench], opened), "%s: the kernel let go of a line", bench)
	}
	r.do(console.Request{Do: "stop"})
	r.requireDry()
}

func TestAFrozenDaemonIsEndedWithItsPumpsOff(t *testing.T) {
	t.Parallel()
	r := newRig(t, twoBenches)
	watchdog := time.Duration(r.shipped().WatchdogMS) * time.Millisecond
	require.Positive(t, watchdog, "the unit file has a watchdog")
	r.powerOn()
	r.serve()
	r.flood()
	from := r.mark()
	frozen := time.Now()
	r.do(console.Request{Do: "signal", Args: []string{strconv.Itoa(int(unix.SIGSTOP))}})
	r.await(from, watchdog+5*time.Second, "hung", "")
	r.await(from, 5*time.Second, "off", "fine")
	r.await(from, 30*time.Second, "log", "metrics at")
	time.Sleep(3 * time.Second)
	r.requireOff(frozen, watchdog+2*time.Second)
	r.do(console.Request{Do: "stop"})
	r.requireDry()
}

// requireOff checks that every pump ran once and was off within a time of what
// befell its daemon, and returns when each circuit opened.
func (r *rig) requireOff(since time.Time, within time.Duration) map[string]time.Time {
	r.t.Helper()
	opened := map[string]time.Time{}
	for bench, circuit := range r.circuits() {
		spans := circuit.Energised(r.writes())
		require.Len(r.t, spans, 1, "runs of %s", bench)
		require.False(r.t, spans[0].To.IsZero())
		r.t.Logf("%s: off after %v", bench, spans[0].To.Sub(since))
		require.Less(r.t, spans[0].To.Sub(since), within)
		opened[bench] = spans[0].To
	}
	return opened
}

// letGo reports whether a circuit opened because a line of it became an input,
// so that its pull decides, and not because a program drove it off.
func letGo(writes []Write, c Circuit, opened time.Time) bool {
	p := NewPins()
	for _, w := range writes {
		p.Write(w.Offset, w.Value)
		if !w.At.Before(opened) {
			break
		}
	}
	return !p.Driven(c.Pump.Line) || !p.Driven(c.Enable.Line)
}
