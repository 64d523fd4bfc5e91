package rehearse

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
)

func TestFloodsRiseAsTheStagesSay(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, Plain(date(t, "2026-03-02"), 60, 1))

	proven := byDay(rep, func(r controller.Row) bool { return r.Outcome == controller.Proven })
	for n := range 60 {
		want := 4
		if n < 24 {
			want = 2
		}
		if n < 10 {
			want = 1
		}
		day := date(t, "2026-03-02").AddDays(n).String()
		assert.Equal(t, want, proven[day], day)
	}
	assert.Len(t, rep.Ledger, 10+2*14+4*36)
	assert.Equal(t, len(rep.Ledger), rep.Floods[controller.Proven])
	assert.Zero(t, rep.SpilledL)
	assert.Zero(t, rep.DryPumpS)
	assert.Empty(t, rep.Messages)
	assert.Empty(t, rep.Trips)
	assert.Empty(t, rep.BrokenInvariants)
	assert.Len(t, rep.Acts, 2, "two monthly proof tests")

	crest := float64(site.Benches[0].Standpipe.Crest) * 1000
	assert.Greater(t, rep.PeakDepthMM, crest)
	assert.Less(t, rep.PeakDepthMM, float64(site.Benches[0].High.At)*1000)
	assert.Greater(t, rep.LowestWaterFraction["basil_spring"], 0.5)
	assert.LessOrEqual(t, rep.LongestGapH["basil_spring"], 24.1)
	assert.Greater(t, rep.ReservoirMinL, 20.0)
}

func TestSameScenarioGivesTheSameBytes(t *testing.T) {
	site, s := example(t), Plain(date(t, "2026-03-02"), 60, 1)
	s.Faults = scenario(t, "drain-blocked", site).Faults
	first := asJSON(t, rehearsed(t, site, s))
	assert.Equal(t, first, asJSON(t, rehearsed(t, site, s)))
	assert.Equal(t, first, asJSON(t, rehearsed(t, example(t), s)))

	s.Seed = 2
	assert.NotEqual(t, first, asJSON(t, rehearsed(t, site, s)), "another seed is other weather")
}

func TestReportHasItsKeys(t *testing.T) {
	rep := rehearsed(t, example(t), Plain(date(t, "2026-03-02"), 2, 1))
	var top map[string]json.RawMessage
	require.NoError(t, json.Unmarshal([]byte(asJSON(t, rep)), &top))
	assert.ElementsMatch(t, []string{
		"from", "days", "seed", "weather", "floods", "ledger", "trips", "messages", "acts",
		"topped_up_l", "spilled_l", "dry_pump_s", "peak_depth_mm", "pump_s", "longest_gap_h",
		"lowest_water_fraction", "reservoir_min_l", "water_error_l", "broken_invariants",
	}, slices.Collect(maps.Keys(top)))
	assert.Equal(t, "[]", string(top["trips"]))
	assert.Equal(t, "[]", string(top["broken_invariants"]))
	assert.JSONEq(t, `{"proven": 2, "short": 0, "unproven": 0, "interrupted": 0, "skipped": 0, "refused": 0, "missed": 0}`, string(top["floods"]))
	assert.Equal(t, []string{"flood_pump", "stirrer"}, slices.Sorted(maps.Keys(rep.PumpS)))
}

// Every combination of switches runs for a month, each on the site of its own
// file, from the day its first batch is transplanted.
func TestEveryFittingRunsForAMonth(t *testing.T) {
	for _, tt := range []struct {
		file string
		ends controller.Outcome // of every flood
		wet  float64            // what the pots keep of what they hold
	}{
		{"timed.yaml", controller.Unproven, 0.2}, // small pots that drink once a day, without a hold
		{"full-only.yaml", controller.Proven, 0.5},
		{"high-only.yaml", controller.Unproven, 0.5},
		{"full-high.yaml", controller.Proven, 0.5},
		{"two-benches.yaml", controller.Proven, 0.5},
		{"us-units.yaml", controller.Proven, 0.5},
	} {
		t.Run(tt.file, func(t *testing.T) {
			site := configured(t, tt.file)
			from := site.Batches[0].Transplanted
			rep := rehearsed(t, site, Plain(from, 30, 1))
			setup, err := Setup(site)
			require.NoError(t, err)
			assert.Len(t, rep.Ledger, len(setup.Calendar.Between(from.At(0), from.AddDays(30).At(0))))
			assert.Equal(t, len(rep.Ledger), rep.Floods[tt.ends], rep.Floods)
			assert.NotEmpty(t, rep.Ledger)
			assert.Empty(t, rep.BrokenInvariants)
			assert.Zero(t, rep.SpilledL)
			assert.Zero(t, rep.DryPumpS)
			for _, b := range site.Batches {
				assert.Greater(t, rep.LowestWaterFraction[b.Name], tt.wet, b.Name)
			}
		})
	}
}

func TestProgressRunsFromNothingToNearlyAll(t *testing.T) {
	var seen []float64
	_, err := Run(t.Context(), example(t), Plain(date(t, "2026-03-02"), 4, 1), Options{Progress: func(done float64) { seen = append(seen, done) }})
	require.NoError(t, err)
	assert.Equal(t, []float64{0, 0.25, 0.5, 0.75}, seen)
}

func TestRehearsalEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := Run(ctx, example(t), Plain(date(t, "2026-03-02"), 4, 1), Options{})
	assert.ErrorIs(t, err, context.Canceled)
}

func TestABatchThatWentTheDayBeforeDoesNotStandThere(t *testing.T) {
	t.Parallel()
	site := altered(t, "transplanted: 2026-03-02", "transplanted: 2026-02-02, closed: 2026-03-01")
	rep := rehearsed(t, site, Plain(date(t, "2026-03-02"), 5, 1))
	assert.Empty(t, rep.LowestWaterFraction)
	assert.Empty(t, rep.LongestGapH)
	assert.Empty(t, rep.Ledger)
}
