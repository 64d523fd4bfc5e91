package rehearse

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everySecondDay plays a scenario on the example, all of whose plants are young and
// flooded on every second day, and returns the floods that started, by their date.
func everySecondDay(t *testing.T, scenario string) (dates []string, r *Report) {
	site := altered(t,
		`flood_at: ["09:00"],          hold: 4 min, strength: 25 %, can_wait: 48 h`, `flood_at: ["09:00"], every: 2 d, hold: 4 min, strength: 25 %, can_wait: 60 h`,
		"from_day: 10,", "from_day: 41,", "from_day: 24,", "from_day: 60,")
	s, err := ParseScenario("every.yaml", []byte(scenario), site)
	require.NoError(t, err)
	r, err = Run(t.Context(), site, s, Options{})
	require.NoError(t, err)
	assert.Empty(t, r.BrokenInvariants)
	for _, f := range r.Ledger {
		if f.Started != nil {
			dates = append(dates, (*f.Started)[5:16])
		}
	}
	return dates, r
}

func TestEverySecondDayIsFloodedThroughTheChangeOfClocks(t *testing.T) {
	dates, r := everySecondDay(t, "from: 2026-03-24\ndays: 10\n")
	assert.Equal(t, []string{"03-24T09:00", "03-26T09:00", "03-28T09:00", "03-30T09:00", "04-01T09:00"}, dates)
	assert.InDelta(t, 48, r.LongestGapH["basil_spring"], 1.1, "the clocks go forward on the 29th")
	assert.Empty(t, r.Messages)
}

// What an outage took is made up for when power returns, on a day that has no slot.
func TestAFloodThatAnOutageTookIsMadeUpForOnADayLeftOut(t *testing.T) {
	dates, _ := everySecondDay(t, `{from: 2026-03-04, days: 5, faults: [{what: power-cut, at: "2026-03-06 08:00", for: 26 h}]}`)
	require.Len(t, dates, 3, "%v", dates)
	assert.Equal(t, "03-04T09:00", dates[0])
	assert.Contains(t, dates[1], "03-07T10:", "as soon as power is back")
	assert.Equal(t, "03-08T09:00", dates[2])
}

func TestASkipLeavesOutTheNextFloodAndNotADayWithout(t *testing.T) {
	dates, _ := everySecondDay(t, `{from: 2026-03-04, days: 7, acts: [{do: skip, where: north, at: "2026-03-05 12:00"}]}`)
	assert.Equal(t, []string{"03-04T09:00", "03-08T09:00", "03-10T09:00"}, dates)
}
