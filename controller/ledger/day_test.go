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
	ran, err := l.Outputs(t.Context(), Query{})
	require.NoError(t, err)
	for _, o := range ran {
		t.Logf("%+v", o)
	}
	details, err := l.Details(t.Context(), Query{})
	require.NoError(t, err)
	for _, d := range details {
		t.Logf("%s %s %s %d %s", d.At.Format(time.TimeOnly), d.Kind, d.Place, d.Flood, d.Text)
	}
}
