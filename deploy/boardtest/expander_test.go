//go:build boardtest

package boardtest

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/boardtest/console"
)

const (
	// trayLabel is what the kernel calls the only expander on the only bus.
	trayLabel = "0-0020"

	// trays is how many benches have their pump on the expander. Each transfer on
	// its bus takes the emulator a while.
	trays = 4

	// deafBudget is the longest from the moment in which an expander no longer
	// answers to the moment in which the enable relay of a pump on it opens: a
	// silent bus keeps the kernel busy for a while before that is known.
	deafBudget = 500 * time.Millisecond
)

func onTheTray(bench, _ int) string { return fmt.Sprintf("{chip: %q, offset: %d}", trayLabel, bench) }

// The pumps of some benches hang on an expander, their enable relays on the
// board. The expander goes in mid-flood, comes back without its settings, floods
// run again; HIGH is made on some of the benches, and the bus falls silent while
// the others flood.
func TestAnExpanderThatGoesIsTakenForAFaultAndHeals(t *testing.T) {
	r := newRig(t, manyBenches(trays, onTheTray))
	r.clock = counted
	r.powerOn()
	require.Equal(t, trayLabel, r.do(console.Request{Do: "expander"}))
	r.do(console.Request{Do: "probe"})
	r.requireListed()
	r.serve()

	r.floodAll()
	r.requirePumps("in mid-flood", true)
	r.noted()
	from := r.mark()
	gone := r.tray("gone")
	r.await(from, time.Minute, "log", "does not obey")
	requireWithin(t, "expander gone to enable line off", r.everyEnableOff(gone, 0), deafBudget)

	r.tray("blank")
	r.floodAll()
	r.requirePumps("after the expander came back", true)
	t.Log("an expander that lost its power was set up anew, and flooded again")

	var pumps, enables []time.Duration
	made := make([]time.Duration, trays/2)
	for i := range made {
		made[i] = r.level(fmt.Sprintf("bench%d.high", i), true, 7*time.Millisecond)
	}
	r.level("bench0.high", true, time.Second)
	notes, moves := r.noted(), r.moves()
	for i, at := range made {
		enables = append(enables, r.untilOff(notes, fmt.Sprint("enable", i), at))
		pumps = append(pumps, r.untilPumpOff(moves, i, at))
	}
	requireWithin(t, "HIGH made to enable line off", enables, highBudget)
	requireWithin(t, "HIGH made to pump line on the expander off", pumps, highBudget)

	silent := r.tray("silent")
	r.level("bench0.high", true, 2*time.Second)
	requireWithin(t, "bus silent to enable line off", r.everyEnableOff(silent, trays/2), deafBudget)
	r.tray("there")
	r.level("bench0.high", true, 2*time.Second)
	r.requirePumps("at the end", false)
	r.do(console.Request{Do: "stop"})
}

// requireListed asks the program which lines there are.
func (r *rig) requireListed() {
	r.t.Helper()
	text := r.do(console.Request{Do: "run", Args: []string{"/usr/bin/benchtide", "lines", "-c", sitePath, "--json"}})
	var listing struct {
		Chips []struct {
			Label string
			Own   bool
			Lines []struct {
				Write string
				Ours  []string
			}
		}
		Missing []string
	}
	require.NoError(r.t, json.Unmarshal([]byte(text[strings.Index(text, "{"):]), &listing), text)
	require.Empty(r.t, listing.Missing)
	for _, c := range listing.Chips {
		r.t.Logf("chip %q: %d lines, the processor's own: %t", c.Label, len(c.Lines), c.Own)
		if c.Label == trayLabel {
			require.False(r.t, c.Own)
			require.Len(r.t, c.Lines, 8)
			require.Equal(r.t, []string{`output "pump3"`}, c.Lines[3].Ours)
			require.Equal(r.t, `{chip: "0-0020", offset: 3}`, c.Lines[3].Write)
		}
		if strings.HasPrefix(c.Label, "pinctrl-") {
			require.True(r.t, c.Own)
		}
	}
}

// tray says what the expander is like from now on, and returns the moment on the
// board's clock.
func (r *rig) tray(condition string) time.Duration {
	r.t.Helper()
	boot, _, _ := strings.Cut(r.do(console.Request{Do: "expander", Args: []string{condition}}), " ")
	return r.duration(boot)
}

// move is the levels of the expander's lines after one of them changed.
type move struct {
	at     time.Duration
	levels uint64
}

func (r *rig) moves() []move {
	r.t.Helper()
	var all []move
	for line := range strings.Lines(r.do(console.Request{Do: "expander", Args: []string{"moves"}})) {
		f := strings.Fields(line)
		require.Len(r.t, f, 2, line)
		levels, err := strconv.ParseUint(f[1], 2, 8)
		require.NoError(r.t, err)
		all = append(all, move{r.duration(f[0]), levels})
	}
	return all
}

// pumpOn says whether the pump of a bench is on with these levels.
func (r *rig) pumpOn(bench int, levels uint64) bool {
	high := levels&(1<<bench) != 0
	return high == r.relay(fmt.Sprint("pump", bench)).High
}

func (r *rig) requirePumps(when string, on bool) {
	r.t.Helper()
	r.level("bench3.high", false, time.Second) // as it is: a second passes
	all := r.moves()
	r.t.Logf("the expander's lines %s: %v", when, all)
	for i := range trays {
		require.Equal(r.t, on, r.pumpOn(i, all[len(all)-1].levels), "pump%d %s", i, when)
	}
}

func (r *rig) untilPumpOff(all []move, bench int, since time.Duration) time.Duration {
	r.t.Helper()
	i := slices.IndexFunc(all, func(m move) bool { return m.at >= since && !r.pumpOn(bench, m.levels) })
	require.GreaterOrEqual(r.t, i, 0, "pump%d did not go off", bench)
	return all[i].at - since
}

// everyEnableOff is how long after a moment each enable relay opened, from that
// of a bench on.
func (r *rig) everyEnableOff(since time.Duration, first int) (took []time.Duration) {
	r.t.Helper()
	notes := r.noted()
	for i := first; i < trays; i++ {
		relay := r.relay(fmt.Sprint("enable", i))
		n := slices.IndexFunc(notes, func(n note) bool {
			return n.program == "" && n.line == relay.Line && n.at >= since && n.high != relay.High
		})
		require.GreaterOrEqual(r.t, n, 0, "enable%d did not open", i)
		took = append(took, notes[n].at-since)
	}
	return took
}
