package metrics

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

func TestASeasonIsWrittenSeriesBySeriesWithItsTimes(t *testing.T) {
	site := newRig().site
	season, err := NewSeason(site, 15*time.Minute)
	require.NoError(t, err)
	start := time.Unix(1772409600, 0)
	ratio := 0.0
	turn := func(after time.Duration, events ...controller.Event) {
		for i := range events {
			events[i].At.Mono = after
		}
		ratio += 0.25
		require.NoError(t, season.Turn(start.Add(after), &loop.Turn{
			Now: safety.Now{Mono: after}, Events: events,
			Snapshot: &loop.Snapshot{Status: controller.Status{Batches: []controller.BatchStatus{{Ratio: ratio}}}},
		}))
	}
	turn(0)
	turn(10*time.Minute, switched(0, true))
	turn(20*time.Minute, switched(0, false))
	turn(50 * time.Minute)
	var text strings.Builder
	require.NoError(t, season.WriteOpenMetrics(&text))
	assert.Contains(t, text.String(), `# HELP benchtide_output_run_seconds How long the output was commanded on.
# TYPE benchtide_output_run_seconds counter
`)
	assert.Contains(t, text.String(), `benchtide_output_run_seconds_total{output="flood_pump"} 0 1772409600
benchtide_output_run_seconds_total{output="flood_pump"} 300 1772410500
benchtide_output_run_seconds_total{output="flood_pump"} 600 1772411400
benchtide_output_run_seconds_total{output="flood_pump"} 600 1772412300
`, "read while it ran, and after")
	assert.Contains(t, text.String(), `benchtide_crop_clock_ratio{batch="basil_spring"} 0.25 1772409600
benchtide_crop_clock_ratio{batch="basil_spring"} 0.5 1772410500
benchtide_crop_clock_ratio{batch="basil_spring"} 0.75 1772411400
`)
	assert.Contains(t, text.String(), `benchtide_fill_duration_seconds_bucket{bench="north",le="+Inf"} 0 1772409600`)
	assert.True(t, strings.HasSuffix(text.String(), "\n# EOF\n"))
	for _, line := range strings.Split(text.String(), "\n") {
		if strings.HasPrefix(line, "# TYPE") {
			assert.Equal(t, 1, strings.Count(text.String(), line), "a metric stands in one place: %s", line)
		}
	}
}
