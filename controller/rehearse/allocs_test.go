package rehearse

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inner are the times from which on the inner loop of a rehearsal is looked at:
// nothing but water moves for the next minutes.
var inner = map[string]time.Duration{"at rest": 30 * time.Hour, "in a fill": 33*time.Hour + time.Minute}

// innerLoop is a rehearsal that has come to a time.
func innerLoop(t testing.TB, at time.Duration) *rehearsal {
	r, err := prepare(example(t), plain(t), Options{})
	require.NoError(t, err)
	require.NoError(t, r.startProgram())
	for r.world.Elapsed() < at {
		r.turnBy(t, at)
	}
	return r
}

// turnBy takes the next turn, at a time at the latest.
func (r *rehearsal) turnBy(t testing.TB, until time.Duration) {
	if err := r.world.Wait(t.Context(), min(r.next, r.bootClock(until)), nil); err != nil {
		t.Fatal(err)
	}
	r.agenda.run()
	r.turn()
}

// While nothing but water moves, the inner loop of a rehearsal makes no garbage:
// the simulated site, the guard, the controller, the loop and the checker.
func TestTheInnerLoopAllocatesNothing(t *testing.T) {
	for name, at := range inner {
		r := innerLoop(t, at)
		assert.Zero(t, testing.AllocsPerRun(100, func() { r.turnBy(t, r.world.Elapsed()+time.Second/2) }), name)
	}
}

// BenchmarkTurn is one turn of the inner loop, a millisecond after the last.
func BenchmarkTurn(b *testing.B) {
	for name, at := range inner {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			r := innerLoop(b, at)
			for b.Loop() {
				if r.world.Elapsed() > at+time.Minute {
					b.StopTimer()
					r = innerLoop(b, at)
					b.StartTimer()
				}
				r.turnBy(b, r.world.Elapsed()+time.Millisecond)
			}
		})
	}
}
