//go:build boardtest

package boardtest

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/boardtest/console"
)

func TestABoardThatBootsIn1970FloodsOnceTimeIsKnown(t *testing.T) {
	t.Parallel()
	r := newRig(t, twoBenches)
	r.powerOn()
	before := len(r.writes())
	r.serve()
	r.requireOnlyItsLines(before)
	require.Zero(t, r.metric("benchtide_clock_trusted"))
	time.Sleep(12 * time.Second) // longer than a table takes to count as empty
	for name, c := range r.circuits() {
		require.Empty(t, c.Energised(r.writes()), "circuit of %s while time is unknown", name)
	}

	from := r.mark()
	known := time.Now()
	r.setClock("10:00", 3*time.Second)
	for bench, circuit := range r.circuits() {
		ended := r.awaitEnded(from, time.Minute, bench)
		require.Equal(t, "proven", ended.Outcome, ended.Reason)
		spans := circuit.Energised(r.writes())
		require.Len(t, spans, 1, "runs of %s", bench)
		require.WithinRange(t, spans[0].From, known.Add(3*time.Second), known.Add(8*time.Second))
		require.False(t, spans[0].To.IsZero())
		t.Logf("%s: energised %v", bench, spans[0])
	}
	require.EqualValues(t, 1, r.metric("benchtide_clock_trusted"))
	r.do(console.Request{Do: "stop"})
	r.requireDry()
}

// requireOnlyItsLines checks what a start of the daemon did to the registers,
// from the write with that number on: the libraries it has for boards of this
// kind moved nothing, no line that is not the site's has another function, level
// or pull than before, and the enable relay's line is the first to be driven.
func (r *rig) requireOnlyItsLines(from int) {
	r.t.Helper()
	ours := map[int]bool{}
	for _, relay := range r.outside.relays {
		ours[relay.Line] = true
	}
	for _, w := range r.outside.switches {
		ours[w.line] = true
	}
	p, writes := NewPins(), r.writes()
	var driven []int
	for i, w := range writes {
		before := *p
		p.Write(w.Offset, w.Value)
		if i < from || w.Outer {
			continue
		}
		for line := range lineCount {
			if !p.same(&before, line) {
				require.True(r.t, ours[line], "write %d changes GPIO%d, which is not the site's", i, line)
			}
			if p.Driven(line) && !before.Driven(line) {
				driven = append(driven, line)
			}
		}
	}
	require.Len(r.t, driven, len(r.outside.relays), "each output is claimed once")
	require.Equal(r.t, r.relay("enable").Line, driven[0])
	r.t.Logf("a start of the daemon: %d register writes, lines driven in the order %v", len(writes)-from, driven)
}

// same reports whether a line is as it is in another state of the block.
func (p *Pins) same(q *Pins, line int) bool {
	return p.function[line] == q.function[line] && p.output[line] == q.output[line] && p.pull[line] == q.pull[line]
}
