package campaign

import (
	"context"
	"math/rand/v2"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkCampaign tells bench-years a second on one core, the drawing of sites
// and the judging included. The budget is 10. A second of the processor is that
// whatever else the machine does.
func BenchmarkCampaign(b *testing.B) {
	b.ReportAllocs()
	lived, before := 0, processor(b)
	for n := uint64(0); b.Loop(); n++ {
		rep, err := Run(b.Context(), Options{Years: 20, Seed: n})
		require.NoError(b, err)
		require.Empty(b, rep.Failures)
		lived += rep.BenchYears
	}
	b.ReportMetric(float64(lived)/b.Elapsed().Seconds(), "bench-years/s")
	b.ReportMetric(float64(lived)/(processor(b)-before).Seconds(), "bench-years/core-s")
}

// processor is the processor time that this program has had, of all threads.
func processor(b *testing.B) time.Duration {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func BenchmarkDraw(b *testing.B) {
	for n := uint64(0); b.Loop(); n++ {
		_, err := drawPlace(context.Background(), rand.New(rand.NewPCG(1, n)), 1)
		require.NoError(b, err)
	}
}
