package campaign

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/measure/cost"
)

// BenchmarkCampaign tells bench-years a second on one core, the drawing of sites
// and the judging included. The budget is 10. A second of the processor is that
// whatever else the machine does.
func BenchmarkCampaign(b *testing.B) {
	b.ReportAllocs()
	lived, before := 0, cost.Used()
	for n := uint64(0); b.Loop(); n++ {
		rep, err := Run(b.Context(), Options{Years: 20, Seed: n})
		require.NoError(b, err)
		require.Empty(b, rep.Failures)
		lived += rep.BenchYears
	}
	b.ReportMetric(float64(lived)/b.Elapsed().Seconds(), "bench-years/s")
	b.ReportMetric(float64(lived)/(cost.Used()-before).Seconds(), "bench-years/core-s")
}

func BenchmarkDraw(b *testing.B) {
	for n := uint64(0); b.Loop(); n++ {
		_, err := drawSite(context.Background(), rand.New(rand.NewPCG(1, n)), 1)
		require.NoError(b, err)
	}
}
