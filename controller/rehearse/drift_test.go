package rehearse

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/schedule"
)

// A pump is replaced by one a tenth weaker on the twentieth day.
func TestASlowChangeIsToldUnlessAPersonSetANewBaseline(t *testing.T) {
	site, problems := config.Parse("example.yaml", config.Example)
	require.NoError(t, problems.Err())
	from := schedule.DateOf(2026, time.March, 2)
	replaced := from.AddDays(20).At(0).In(site.Zone)
	sc := Plain(from, 50, 1)
	sc.Faults = []Fault{{What: "pump-weak", Where: "north", At: replaced, Size: 0.1}}

	told, err := Run(context.Background(), site, sc, Options{})
	require.NoError(t, err)
	require.Len(t, told.Slow, 1)
	assert.Equal(t, drift.PumpWeak, told.Slow[0].Cause)
	assert.Equal(t, "north", told.Slow[0].Bench)
	var messages []string
	for _, m := range told.Messages {
		messages = append(messages, m.Text)
	}
	assert.Contains(t, messages[0], "clean the intake screen this week")

	sc.Acts = []Act{{Do: "baseline", Where: "north", At: replaced}}
	quiet, err := Run(context.Background(), site, sc, Options{})
	require.NoError(t, err)
	assert.Empty(t, quiet.Slow)
	assert.Equal(t, "done", quiet.Acts[0].Answer)
}

func TestSamplingChangesNothing(t *testing.T) {
	site, problems := config.Parse("example.yaml", config.Example)
	require.NoError(t, problems.Err())
	sc := Plain(schedule.DateOf(2026, time.March, 2), 10, 1)
	without, err := Run(context.Background(), site, sc, Options{})
	require.NoError(t, err)
	n := 0
	with, err := Run(context.Background(), site, sc, Options{Sample: func(Sample) { n++ }})
	require.NoError(t, err)
	assert.Greater(t, n, 240)
	assert.Equal(t, without.Ledger, with.Ledger)
	assert.InDelta(t, without.ToppedUpL, with.ToppedUpL, 0.1)
}
