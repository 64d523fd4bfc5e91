package rehearse

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
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

// The file says a fall that nobody timed, and the true one has little left of
// its window: the bench would latch on the first day that it is a little slower.
func TestABenchThatWasNeverTimedIsToldBeforeItStops(t *testing.T) {
	site := altered(t, "fall: 2 min", "fall: 1.5 min")
	told := rehearsed(t, site, Plain(date(t, "2026-03-02"), 20, 1))
	require.Len(t, told.Slow, 1, "once in twenty days")
	assert.Equal(t, drift.NearLimit, told.Slow[0].Cause)
	require.NotEmpty(t, told.Messages)
	assert.Equal(t, controller.Today, told.Messages[0].Urgency)
	assert.Contains(t, told.Messages[0].Text, "past 2 min 15 s the bench stops")
	assert.Empty(t, told.Trips)
}
