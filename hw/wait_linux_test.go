package hw

import (
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/measure/cost"
)

// The wait of a daemon at rest, shorter: what it costs until its turn goes on.
func BenchmarkWait(b *testing.B) {
	runtimes := systemMachine()
	runtimes.wait = nil
	for _, bb := range []struct {
		name  string
		clock *SystemClock
	}{
		{"timer=kernel", NewSystemClock()},
		{"timer=runtime", newSystemClock(runtimes)},
	} {
		b.Run(bb.name, func(b *testing.B) {
			begun, before := cost.Used(), switches()
			for b.Loop() {
				require.NoError(b, bb.clock.Wait(b.Context(), sinceBoot()+shortNap+10*time.Millisecond, nil))
			}
			cost.Report(b, begun)
			b.ReportMetric(float64(switches()-before)/float64(b.N), "switches/op")
		})
	}
}

// switches is how often a thread of this process has gone to sleep so far.
func switches() int64 {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u) // of oneself it never fails
	return u.Nvcsw
}
