package campaign

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkCampaign tells bench-years a second on one core, the drawing of sites
// and the judging included. The budget is 10.
func BenchmarkCampaign(b *testing.B) {
	b.ReportAllocs()
	lived := 0
	for n := uint64(0); b.Loop(); n++ {
		rep, err := Run(b.Context(), Options{Years: 20, Seed: n})
		require.NoError(b, err)
		require.Empty(b, rep.Failures)
		lived += rep.BenchYears
	}
	b.ReportMetric(float64(lived)/b.Elapsed().Seconds(), "bench-years/s")
}

func BenchmarkDraw(b *testing.B) {
	for n := uint64(0); b.Loop(); n++ {
		_, err := drawPlace(rand.New(rand.NewPCG(1, n)), 1)
		require.NoError(b, err)
	}
}
