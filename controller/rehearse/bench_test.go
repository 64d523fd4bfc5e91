package rehearse

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkSeason120 is a season of 120 days on one bench with the full loop.
// The budget is 0.1 s on one core. It also tells bench-years a second.
func BenchmarkSeason120(b *testing.B) {
	site := example(b)
	scenario := Plain(date(b, "2026-03-02"), 120, 1)
	b.ReportAllocs()
	for b.Loop() {
		rep, err := Run(b.Context(), site, scenario, Options{})
		require.NoError(b, err)
		require.True(b, rep.Fine())
	}
	b.ReportMetric(float64(scenario.Days)/365*float64(b.N)/b.Elapsed().Seconds(), "bench-years/s")
}
