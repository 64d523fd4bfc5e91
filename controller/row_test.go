package controller

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

func TestRowShowsLocalTimesWithTheirOffset(t *testing.T) {
	f := Flood{
		ID: 7, HasSlot: true, Slot: schedule.CivilOf(2026, 7, 2, 9, 0, 0),
		Due: time.Date(2026, 7, 2, 8, 0, 0, 0, time.UTC), Cause: BySchedule, Outcome: Proven,
		Started: time.Date(2026, 7, 2, 8, 0, 10, 400e6, time.UTC), Ended: time.Date(2026, 7, 2, 8, 20, 0, 0, time.UTC),
		Fill: 210240 * time.Millisecond, Fall: 95 * time.Second, Litres: 61.234,
	}
	got, err := json.Marshal(RowOf(f, []string{"north"}, dublin))
	require.NoError(t, err)
	assert.JSONEq(t, `{"id": 7, "bench": "north", "slot": "2026-07-02T09:00:00+01:00", "due": "2026-07-02T09:00:00+01:00",
		"cause": "schedule", "attempt": 0, "started": "2026-07-02T09:00:10+01:00", "ended": "2026-07-02T09:20:00+01:00",
		"outcome": "proven", "reason": "", "fill_s": 210.2, "fall_s": 95, "litres": 61.2, "pumped": 61.2}`, string(got))
}

func TestRowOfAFloodThatNeverRanHasNoStart(t *testing.T) {
	f := Flood{ID: 1, Due: time.Date(2026, 1, 2, 8, 0, 0, 0, time.UTC), Cause: ByCatchUp, Outcome: Refused}
	r := RowOf(f, []string{"north"}, dublin)
	assert.Nil(t, r.Started)
	assert.Nil(t, r.FillS)
	assert.Equal(t, "2026-01-02T08:00:00+00:00", r.Slot)
	assert.Equal(t, r.Due, r.Slot)
}

func TestRowKeepsTheFiguresOfASlot(t *testing.T) {
	for _, tt := range []struct {
		name, zone, slot, want, due string
	}{
		{"gap", "Europe/Dublin", "2026-03-29 01:30", "2026-03-29T01:30:00+00:00", "2026-03-29T02:00:00+01:00"},
		{"start of the gap", "Europe/Dublin", "2026-03-29 01:00", "2026-03-29T01:00:00+00:00", "2026-03-29T02:00:00+01:00"},
		{"half-hour gap", "Australia/Lord_Howe", "2026-10-04 02:10", "2026-10-04T02:10:00+10:30", "2026-10-04T02:30:00+11:00"},
		{"gap at midnight", "America/Sao_Paulo", "2017-10-15 00:20", "2017-10-15T00:20:00-03:00", "2017-10-15T01:00:00-02:00"},
		{"overlap", "Europe/Dublin", "2026-10-25 01:30", "2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+01:00"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			slot, err := schedule.ParseCivil(tt.slot)
			require.NoError(t, err)
			zone := mustZone(tt.zone)
			r := RowOf(Flood{HasSlot: true, Slot: slot, Due: slot.In(zone)}, []string{"north"}, zone)
			assert.Equal(t, tt.want, r.Slot)
			assert.Equal(t, tt.due, r.Due)
		})
	}
}
