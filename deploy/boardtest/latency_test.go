//go:build boardtest

package boardtest

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/boardtest/console"
)

const (
	// highBudget is the longest that a relay line may take after HIGH was made.
	highBudget = 20 * time.Millisecond

	// startBudget is the longest from the start of the program to the moment
	// from which every output is driven off.
	startBudget = 100 * time.Millisecond

	// starts of the daemon, each with a flood on every bench, whose HIGH is
	// then made: the first use of everything after a start is measured too.
	starts = 4

	// many is how many benches are measured at each start.
	many = 8
)

// manyBenches is a site of benches that have nothing in common, so that the
// HIGH of each can be made by itself while all are in mid-fill. They fill for
// long enough to make them all, and their tables count as empty soon after a
// start. Half of the pump relays energise on low. Where says what line the pump
// of a bench is on.
func manyBenches(count int, where func(bench, line int) string) []byte {
	var outputs, reservoirs, benches, batches strings.Builder
	for i := range count {
		pump, energise := 2+i, "low"
		if i >= count/2 {
			pump, energise = 5+i, "high"
		}
		fmt.Fprintf(&outputs, "  enable%d: {line: GPIO%d, energise: high, kind: enable}\n", i, 16+i)
		fmt.Fprintf(&outputs, "  pump%d: {line: %s, energise: %s, kind: pump, behind: enable%d}\n", i, where(i, pump), energise, i)
		fmt.Fprintf(&reservoirs, "  tank%d: {usable: 60 L, keep: 5 L}\n", i)
		fmt.Fprintf(&benches, `  bench%d:
    reservoir: tank%d
    pump: pump%d
    table: {length: 0.9 m, width: 0.5 m, rim: 75 mm}
    standpipe: {crest: 30 mm, bore: 50 mm}
    supply: {bore: 25 mm, length: 1.5 m, lift: 0.9 m, max_head: 2.2 m, max_flow: 1800 L/h}
    drain: {through: pump}
    full_switch: {line: GPIO%d, at: 26 mm, water: closes}
    high_switch: {line: GPIO%d, at: 52 mm, water: opens}
    cycle: {fill: 100 s, fall: 6 s, drain: 20 s}
`, i, i, i, 24+i, 34+i)
		fmt.Fprintf(&batches, "  - {name: cress%d, plan: cress, bench: bench%d, transplanted: 2026-03-02, pots: 4, pot: {top: 6 cm, volume: 0.1 L}, substrate: peat}\n", i, i)
	}
	return fmt.Appendf(nil, `site: {name: Board test, timezone: Europe/Dublin, floor: dry-room}
board: gpio
outputs:
%s
reservoirs:
%s
benches:
%s
plans:
  cress:
    - {from_day: 0, flood_at: ["10:00"], hold: 5 s, strength: 25 %%, can_wait: 720 h}
batches:
%s`, &outputs, &reservoirs, &benches, &batches)
}

// onTheHeader is a line of the board itself.
func onTheHeader(_, line int) string { return fmt.Sprintf("GPIO%d", line) }

func TestOutputsAreOffInTimeAfterTheStartAndAfterHigh(t *testing.T) {
	r := newRig(t, manyBenches(many, onTheHeader))
	r.clock = counted
	r.powerOn()
	r.do(console.Request{Do: "probe"})
	phase := rand.New(rand.NewPCG(1, 2))
	var start, pumps, enables []time.Duration
	for range starts {
		r.serve()
		r.floodAll()
		made := r.makeEveryHigh(phase)
		r.do(console.Request{Do: "stop"})
		noted := r.noted()
		start = append(start, r.untilAllOff(noted))
		for i, at := range made {
			pumps = append(pumps, r.untilOff(noted, fmt.Sprint("pump", i), at))
			enables = append(enables, r.untilOff(noted, fmt.Sprint("enable", i), at))
			r.level(fmt.Sprintf("bench%d.high", i), false, 0)
		}
	}
	requireWithin(t, "start to every output off", start, startBudget)
	requireWithin(t, "HIGH made to pump line off", pumps, highBudget)
	requireWithin(t, "HIGH made to enable line off", enables, highBudget)
}

func requireWithin(t *testing.T, what string, took []time.Duration, budget time.Duration) {
	t.Helper()
	t.Logf("%s, in order: %v", what, took)
	slices.Sort(took)
	longest := took[len(took)-1]
	t.Logf("%s, on the board's clock: min %v, median %v, max %v of %d", what, took[0], took[len(took)/2], longest, len(took))
	require.LessOrEqual(t, longest, budget, what)
}

// floodAll brings every bench to mid-fill.
func (r *rig) floodAll() {
	r.t.Helper()
	from := r.mark()
	r.setClock("10:00", time.Second)
	for _, b := range r.site.Benches {
		r.awaitPump(from, 4*time.Minute, b.Name)
	}
}

// makeEveryHigh makes the HIGH of every bench, in another order each time and
// at no particular moment of the control period, and returns when each was
// made, on the board's clock.
func (r *rig) makeEveryHigh(phase *rand.Rand) []time.Duration {
	r.t.Helper()
	made := make([]time.Duration, many)
	for _, i := range phase.Perm(many) {
		made[i] = r.level(fmt.Sprintf("bench%d.high", i), true, time.Duration(phase.Int64N(int64(100*time.Millisecond))))
	}
	r.level("bench0.high", true, time.Second) // it is, and the reaction to the last one is over by then
	return made
}

// level puts the line of a switch to a level after a wait, from within the
// board, where the moment can be read from the board's clock, and returns that.
func (r *rig) level(name string, high bool, wait time.Duration) time.Duration {
	r.t.Helper()
	i := slices.IndexFunc(r.outside.switches, func(w wire) bool { return w.name == name })
	require.GreaterOrEqual(r.t, i, 0, name)
	level := "0"
	if high {
		level = "1"
	}
	args := []string{strconv.Itoa(r.outside.switches[i].line), level, strconv.FormatInt(wait.Nanoseconds(), 10)}
	return r.duration(r.do(console.Request{Do: "level", Args: args}))
}

func (r *rig) duration(ns string) time.Duration {
	r.t.Helper()
	n, err := strconv.ParseInt(ns, 10, 64)
	require.NoError(r.t, err)
	return time.Duration(n)
}

// note is something that the board's kernel noted, on the board's clock.
type note struct {
	at      time.Duration
	program string // that started; "" for a line
	line    int
	high    bool
}

// noted returns what the kernel noted since the last call.
func (r *rig) noted() []note {
	r.t.Helper()
	var all []note
	for text := range strings.Lines(r.do(console.Request{Do: "moves"})) {
		f := strings.Fields(text)
		require.GreaterOrEqual(r.t, len(f), 3, text)
		n := note{at: r.duration(f[0])}
		switch f[1] {
		case "start":
			n.program = f[2]
		case "line":
			require.Len(r.t, f, 4, text)
			line, err := strconv.Atoi(f[2])
			require.NoError(r.t, err)
			n.line, n.high = line, f[3] != "0"
		default:
			require.Fail(r.t, "what is "+text)
		}
		all = append(all, n)
	}
	return all
}

// untilAllOff is the time from the start of the daemon, the first program in
// notes, until the last of the outputs was first driven, which has to be off.
func (r *rig) untilAllOff(notes []note) time.Duration {
	r.t.Helper()
	require.NotEmpty(r.t, notes)
	require.NotEmpty(r.t, notes[0].program, "the daemon starts before it moves a line")
	var last time.Duration
	for _, relay := range r.outside.relays {
		i := slices.IndexFunc(notes, func(n note) bool { return n.program == "" && n.line == relay.Line })
		require.GreaterOrEqual(r.t, i, 0, "%s is never driven", relay.Name)
		require.NotEqual(r.t, relay.High, notes[i].high, "the first level of %s is off", relay.Name)
		last = max(last, notes[i].at)
	}
	return last - notes[0].at
}

// untilOff is the time from a moment in which a relay was on until its line was
// put off.
func (r *rig) untilOff(notes []note, name string, since time.Duration) time.Duration {
	r.t.Helper()
	relay, on := r.relay(name), false
	for _, n := range notes {
		switch {
		case n.program != "" || n.line != relay.Line:
		case n.at < since:
			on = n.high == relay.High
		default:
			require.True(r.t, on, "%s was on when HIGH was made", name)
			require.NotEqual(r.t, relay.High, n.high, "%s goes off", name)
			return n.at - since
		}
	}
	require.Fail(r.t, name+" did not go off")
	return 0
}
