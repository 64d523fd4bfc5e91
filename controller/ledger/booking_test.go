package ledger

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

// What a person says of water, and what weighings show, stands in the diary.
func TestWaterIsBookedInTheDiary(t *testing.T) {
	l, _, err := Open(t.TempDir(), newSite(t, "2026-03-02 09:00").options())
	require.NoError(t, err)
	defer l.Close()
	at := func(minute int) time.Time { return time.Date(2026, 3, 2, 9, minute, 0, 0, time.UTC) }
	book := func(text string, b controller.Booking) {
		l.Record([]controller.Event{{Kind: controller.WaterBooked, At: safety.Now{Wall: at(0), Trusted: true}, Bench: -1, Output: -1, Booking: b, Text: text}}, nil)
	}
	book("came", controller.Booking{At: at(1), Litres: 44.04})
	book("taken out", controller.Booking{At: at(2), Litres: -22.3})
	book("came", controller.Booking{At: at(3), Litres: 10})
	book("nobody poured", controller.Booking{At: at(1), Withdrawn: true})
	require.NoError(t, l.Flush(t.Context()))
	rows, err := l.Diary(t.Context(), Query{})
	require.NoError(t, err)
	require.Len(t, rows, 3)
	assert.Equal(t, Note, rows[0].Kind)
	assert.Nil(t, rows[0].Value)
	assert.Equal(t, "nobody poured", rows[0].Text)
	assert.Equal(t, TakenOut, rows[1].Kind)
	assert.InDelta(t, 22.3, *rows[1].Value, 1e-9)
	assert.Equal(t, "L", rows[1].Unit)
	assert.Equal(t, TopUp, rows[2].Kind)
	assert.InDelta(t, 10, *rows[2].Value, 1e-9, "the other one stands")
	for _, r := range rows {
		assert.Equal(t, "tank", r.Place)
	}
}
