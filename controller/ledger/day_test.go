package ledger

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestADayOfFloodsIsRecordedFromIntentionToOutcome(t *testing.T) {
	t.Parallel()
	s := newSite(t, "2026-04-10 00:30")
	l, r := open(t, t.TempDir(), s.options())
	require.Nil(t, r.Checkpoint)
	s.begin(&paced{Ledger: l, t: t, world: s.world}, nil, "boot")
	s.run(24 * time.Hour)

	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	require.Len(t, rows, 4)
	for i, slot := range []string{"08:00", "11:00", "14:00", "17:00"} {
		assert.Equal(t, "2026-04-10T"+slot+":00+01:00", rows[i].Slot)
		assert.Equal(t, "proven", string(rows[i].Outcome), rows[i].Reason)
	}
	for _, o := range s.world.Truth().Outputs {
		ran, err := list(t.Context(), l, &outputs, Query{Bench: o.Name})
		require.NoError(t, err)
		require.Len(t, ran, 1, o.Name)
		if o.Name == "air" { // never off: its last hours are not counted yet
			assert.Greater(t, ran[0].RunS, 16*time.Hour.Seconds())
			continue
		}
		assert.Equal(t, o.Starts, ran[0].Starts, o.Name)
		if o.Name != "enable" { // whose circuit is not a run
			assert.InDelta(t, o.Run.Seconds(), ran[0].RunS, 0.01, o.Name)
		}
	}
	details, err := list(t.Context(), l, &details, Query{})
	require.NoError(t, err)
	var first []string
	for _, d := range details {
		if d.Flood == 1 {
			first = append(first, d.Kind)
		}
	}
	assert.Equal(t, []string{"flood-intended", "pump-started", "full-made", "pump-stopped", "flood-ended"}, first)
}
