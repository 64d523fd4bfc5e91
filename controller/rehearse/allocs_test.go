package rehearse

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// While nothing but water moves, the inner loop of a rehearsal makes no garbage:
// the simulated site, the guard, the controller, the loop and the checker.
func TestTheInnerLoopAllocatesNothing(t *testing.T) {
	for name, at := range map[string]time.Duration{"at rest": 30 * time.Hour, "in a fill": 33*time.Hour + time.Minute} {
		r, err := prepare(example(t), plain(t), Options{})
		require.NoError(t, err)
		require.NoError(t, r.startProgram())
		turn := func(until time.Duration) {
			require.NoError(t, r.world.Wait(t.Context(), min(r.next, r.bootClock(until)), nil))
			r.agenda.run()
			r.turn()
		}
		for r.world.Elapsed() < at {
			turn(at)
		}
		assert.Zero(t, testing.AllocsPerRun(100, func() { turn(r.world.Elapsed() + time.Second/2) }), name)
	}
}
