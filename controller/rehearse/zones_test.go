package rehearse

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
)

// Slots lie in each zone's gap and overlap. Dates of the changes: IANA time
// zone database.
func TestNoFloodIsDoubledOrDroppedWhenTheClocksChange(t *testing.T) {
	for _, tt := range []struct {
		zone, from, change string
		inGap              string // a slot that the zone skips; "" for a change to winter time
		ranAt              string
	}{
		{"Europe/Dublin", "2026-03-02", "2026-03-29", "2026-03-29T01:10:00+00:00", "2026-03-29T02:00:00+01:00"},
		{"Europe/Dublin", "2026-09-28", "2026-10-25", "", ""},
		{"America/New_York", "2026-02-10", "2026-03-08", "2026-03-08T02:10:00-05:00", "2026-03-08T03:00:00-04:00"},
		{"America/New_York", "2026-10-05", "2026-11-01", "", ""},
		{"Australia/Lord_Howe", "2026-09-05", "2026-10-04", "2026-10-04T02:10:00+10:30", "2026-10-04T02:30:00+11:00"},
		{"Australia/Lord_Howe", "2026-03-10", "2026-04-05", "", ""},
		{"America/Sao_Paulo", "2017-09-15", "2017-10-15", "2017-10-15T00:10:00-03:00", "2017-10-15T01:00:00-02:00"},
		{"America/Sao_Paulo", "2018-01-20", "2018-02-18", "", ""},
	} {
		t.Run(tt.zone+" "+tt.change, func(t *testing.T) {
			const slots = 4
			site := altered(t, "Europe/Dublin", tt.zone, "transplanted: 2026-03-02", "transplanted: "+tt.from,
				`{from_day: 0,  flood_at: ["09:00"], `, `{from_day: 0,  flood_at: ["00:10", "01:10", "02:10", "12:10"], `,
				`flood_at: ["08:30", "15:00"]`, `flood_at: ["00:10", "01:10", "02:10", "12:10"]`,
				`cron: "0 8-17/3 * * *"`, `cron: "10 0-2,12 * * *"`)
			rep := rehearsed(t, site, Plain(date(t, tt.from), 60, 1))

			assert.Empty(t, rep.BrokenInvariants)
			assert.Len(t, rep.Ledger, 60*slots)
			assert.Equal(t, 60*slots, rep.Floods[controller.Proven], rep.Floods)
			for day, n := range byDay(rep, func(controller.Row) bool { return true }) {
				assert.Equal(t, slots, n, day)
			}
			seen := map[string]bool{}
			for _, r := range rep.Ledger {
				require.False(t, seen[r.Slot], r.Slot)
				seen[r.Slot] = true
				if r.Slot == tt.inGap {
					assert.Equal(t, tt.ranAt, r.Due)
				}
			}
			if tt.inGap != "" {
				assert.True(t, seen[tt.inGap], "the slot in the gap keeps its figures")
			}
		})
	}
}
