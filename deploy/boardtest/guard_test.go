//go:build boardtest

package boardtest

import (
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"benchtide/deploy/boardtest/console"
	"benchtide/hw/sim"
)

// latencyRounds is how often HIGH is made. Each round puts off both pumps and
// their enable relay.
const latencyRounds = 10

// highBudget is the longest that a relay line may take after HIGH was made.
const highBudget = 20 * time.Millisecond

// highGrace is how long the water world is given to show every reaction.
const highGrace = time.Second

// It runs alone, since another emulator beside it would count as latency.
func TestEveryPumpIsOffInTimeAfterHighIsMade(t *testing.T) {
	r := newRig(t)
	r.powerOn()
	require.NoError(t, r.board.Favour())
	r.requireHonestTime()
	phase := rand.New(rand.NewPCG(1, 2))
	took := map[string][]time.Duration{}
	for round := range latencyRounds {
		// A fresh daemon each time: one that remembers latches at the third.
		r.serve()
		r.flood()
		time.Sleep(time.Duration(phase.Int64N(int64(250 * time.Millisecond))))
		bench := []string{"on_low", "on_high"}[round%2]
		before := len(r.writes())
		r.inject(sim.Fault{What: "wire-open", Where: bench + ".high"})
		time.Sleep(highGrace)
		r.noteLatency(took, bench, before)
		r.clear("wire-open", bench+".high")
		r.do(console.Request{Do: "stop"})
	}
	for name, all := range took {
		t.Logf("%s, in order: %v", name, all)
		slices.Sort(all)
		t.Logf("HIGH made to %s line off: min %v, median %v, max %v of %d",
			name, all[0], all[len(all)/2], all[len(all)-1], len(all))
		require.LessOrEqual(t, all[len(all)-1], highBudget, name)
	}
}

// noteLatency reads from the record how long each relay line took after the
// line of a bench's HIGH switch went high.
func (r *rig) noteLatency(took map[string][]time.Duration, bench string, before int) {
	r.t.Helper()
	writes := r.writes()
	made := r.made(writes[before:], bench+".high")
	for _, relay := range r.outside.relays {
		spans := relay.Energised(writes)
		last := spans[len(spans)-1]
		require.True(r.t, last.From.Before(made), "%s was on when HIGH was made", relay.Name)
		require.False(r.t, last.To.IsZero(), "%s is still on", relay.Name)
		require.False(r.t, last.To.Before(made), "%s was off before HIGH was made", relay.Name)
		took[relay.Name] = append(took[relay.Name], last.To.Sub(made))
	}
}

// made is when the world outside put the line of a switch high.
func (r *rig) made(writes []Write, name string) time.Time {
	r.t.Helper()
	i := slices.IndexFunc(r.outside.switches, func(w wire) bool { return w.name == name })
	require.GreaterOrEqual(r.t, i, 0)
	line := r.outside.switches[i].line
	for _, w := range writes {
		if w.Outer && w.Offset == regSet && w.Value == 1<<line {
			return w.At
		}
	}
	require.Fail(r.t, "the record has no making of "+name)
	return time.Time{}
}

// requireHonestTime checks that a second on the board is one on the host, so
// that differences of the record's stamps are the board's own time. Each
// reading of the board's clock lies somewhere between question and answer.
func (r *rig) requireHonestTime() {
	r.t.Helper()
	const drift = 2 * time.Millisecond
	asked1, first := time.Now(), r.bootClock()
	answered1 := time.Now()
	time.Sleep(2 * time.Second)
	asked2, second := time.Now(), r.bootClock()
	answered2 := time.Now()
	require.GreaterOrEqual(r.t, second-first, asked2.Sub(answered1)-drift)
	require.LessOrEqual(r.t, second-first, answered2.Sub(asked1)+drift)
}

func (r *rig) bootClock() time.Duration {
	r.t.Helper()
	boot, _, ok := strings.Cut(r.do(console.Request{Do: "stamp"}), " ")
	require.True(r.t, ok)
	ns, err := strconv.ParseInt(boot, 10, 64)
	require.NoError(r.t, err)
	return time.Duration(ns)
}

func TestAFloatOrWireThatFailsKeepsOrPutsThePumpOff(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		fault     sim.Fault
		bench     string // that has the fault
		interlock string
		outcome   string // "" when the pump never runs within the case
		longest   time.Duration
	}{
		{"FULL stuck down", sim.Fault{What: "full-stuck-low", Where: "on_low"}, "on_low", "fill-window", "unproven", 9500 * time.Millisecond},
		{"FULL stuck up", sim.Fault{What: "full-stuck-high", Where: "on_high"}, "on_high", "not-empty", "", 0},
		{"wire of FULL open", sim.Fault{What: "wire-open", Where: "on_high.full"}, "on_high", "fill-window", "unproven", 9500 * time.Millisecond},
		{"wire of HIGH open", sim.Fault{What: "wire-open", Where: "on_low.high"}, "on_low", "high-level", "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := newRig(t)
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
	r := newRig(t)
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
	for bench, circuit := range r.circuits() {
		spans := circuit.Energised(r.writes())
		require.Len(t, spans, 1, "runs of %s", bench)
		require.False(t, spans[0].To.IsZero())
		t.Logf("%s: off %v after the kill was asked for", bench, spans[0].To.Sub(killed))
		require.Less(t, spans[0].To.Sub(killed), time.Second)
		require.True(t, letGo(r.writes(), circuit, spans[0].To), "%s: the kernel let go of a line", bench)
	}
	r.do(console.Request{Do: "stop"})
	r.requireDry()
}

func TestAFrozenDaemonIsEndedWithItsPumpsOff(t *testing.T) {
	t.Parallel()
	r := newRig(t)
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
	for bench, circuit := range r.circuits() {
		spans := circuit.Energised(r.writes())
		require.Len(t, spans, 1, "runs of %s", bench)
		require.False(t, spans[0].To.IsZero())
		t.Logf("%s: off %v after it froze", bench, spans[0].To.Sub(frozen))
		require.Less(t, spans[0].To.Sub(frozen), watchdog+2*time.Second)
	}
	r.do(console.Request{Do: "stop"})
	r.requireDry()
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
