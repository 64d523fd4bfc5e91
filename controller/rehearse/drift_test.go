package rehearse

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/drift"
)

// A pump is replaced by one a tenth weaker on the twentieth day.
func TestASlowChangeIsToldUnlessAPersonSetANewBaseline(t *testing.T) {
	site, from := example(t), date(t, "2026-03-02")
	replaced := from.AddDays(20).At(0).In(site.Zone)
	sc := Plain(from, 50, 1)
	sc.Faults = []Fault{{What: "pump-weak", Where: "north", At: replaced, Size: 0.1}}

	told := rehearsed(t, site, sc)
	require.Len(t, told.Slow, 1)
	assert.Equal(t, drift.PumpWeak, told.Slow[0].Cause)
	assert.Equal(t, "north", told.Slow[0].Bench)
	require.NotEmpty(t, told.Messages)
	assert.Contains(t, told.Messages[0].Text, "clean the intake screen this week")

	sc.Acts = []Act{{Do: "baseline", Where: "north", At: replaced}}
	quiet := rehearsed(t, site, sc)
	assert.Empty(t, quiet.Slow)
	assert.Equal(t, "done", quiet.Acts[0].Answer)
}

func TestSamplingChangesNothing(t *testing.T) {
	site, sc := example(t), Plain(date(t, "2026-03-02"), 10, 1)
	without := rehearsed(t, site, sc)
	n := 0
	with, err := Run(t.Context(), site, sc, Options{Sample: func(Sample) { n++ }})
	require.NoError(t, err)
	assert.Greater(t, n, 240)
	assert.Equal(t, without.Ledger, with.Ledger)
	assert.InDelta(t, without.ToppedUpL, with.ToppedUpL, 0.1)
}
