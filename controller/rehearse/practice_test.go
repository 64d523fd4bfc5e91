package rehearse

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// smallBench is a bench as practitioners with little room have it: a 20 gallon
// reservoir, a crest of about an inch, pots whose plugs stand half an inch above
// the pot base, one flood a day at first and two later, and a little under
// quarter strength for the youngest. The second batch comes when the first is
// three weeks old.
const smallBench = `
site: {name: Potting bench, timezone: America/Chicago}
board: simulated
outputs:
  pump:   {line: GPIO5,  energise: low,  kind: pump}
  enable: {line: GPIO22, energise: high, kind: enable}
reservoirs:
  tank: {usable: 20 gal, keep: 2 gal, low_switch: {line: GPIO23, at: 17.5 gal, water: closes}}
benches:
  rack:
    reservoir: tank
    pump: pump
    table: {length: 4 ft, width: 4 ft, rim: 2.5 in}
    standpipe: {crest: 1 in, bore: 1.25 in}
    supply: {bore: 0.75 in, length: 4 ft, lift: 2 ft, max_head: 5 ft, max_flow: 200 gph}
    drain: {through: pump}
    full_switch: {line: GPIO24, at: 0.92 in, water: closes}
    high_switch: {line: GPIO25, at: 1.9 in, water: opens}
plans:
  seedlings:
    - {from_day: 0,  flood_at: ["09:00"],          hold: 4 min, strength: 23 %, can_wait: 48 h}
    - {from_day: 14, flood_at: ["09:00", "16:00"], hold: 4 min, strength: 50 %, can_wait: 30 h}
batches:
  - {name: first,  plan: seedlings, bench: rack, transplanted: 2026-03-02, pots: 25, pot: {top: 4 in, volume: 0.6 L}, substrate: peat}
  - {name: second, plan: seedlings, bench: rack, transplanted: 2026-03-23, pots: 24, pot: {top: 4 in, volume: 0.6 L}, substrate: peat}
`

// Common practice, no source: it fills in just over three minutes, floods once
// a day at first and twice later, and stays a little under quarter strength
// while the youngest are on it.
func TestSmallBenchDoesAsPractitionersDo(t *testing.T) {
	site := parse(t, smallBench)
	fill := site.Sheet(0).Fill
	assert.Greater(t, fill, 3*time.Minute)
	assert.Less(t, fill, 3*time.Minute+30*time.Second)

	calendar, err := site.Calendar()
	require.NoError(t, err)
	for _, day := range []struct {
		date     schedule.Date
		floods   int
		strength float64
	}{
		{schedule.DateOf(2026, 3, 2), 1, 0.23},
		{schedule.DateOf(2026, 3, 16), 2, 0.50},
		{schedule.DateOf(2026, 3, 23), 2, 0.23},
		{schedule.DateOf(2026, 4, 6), 2, 0.50},
	} {
		p, ok := calendar.Governs(0, day.date)
		require.True(t, ok)
		assert.Equal(t, day.floods, p.PerDay, day.date)
		assert.InDelta(t, day.strength, p.Strength, 1e-9, day.date)
	}

	rep := rehearsed(t, site, Plain(schedule.DateOf(2026, 3, 2), 42, 1))
	assert.Empty(t, rep.BrokenInvariants)
	assert.Zero(t, rep.SpilledL)
	assert.Equal(t, 14+28*2, rep.Floods["proven"])
	for _, row := range rep.Ledger {
		require.NotNil(t, row.FillS)
		assert.InDelta(t, 190, *row.FillS, 30, "the simulated pump has no label to keep to")
	}
}
