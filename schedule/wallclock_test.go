package schedule

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The clock that remembers shows what one without memory shows, whatever it was
// asked before: forwards and back over every change of its zone.
func TestWallClockShowsWhatAClockWithoutMemoryShows(t *testing.T) {
	for _, name := range []string{"UTC", "Europe/Dublin", "Asia/Kathmandu", "Australia/Lord_Howe", "America/St_Johns"} {
		zone, err := time.LoadLocation(name)
		require.NoError(t, err)
		w, r := NewWallClock(zone), rand.New(rand.NewPCG(1, 2))
		at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
		for range 20_000 {
			require.Equal(t, CivilIn(at, zone), w.Civil(at), "%s %s", name, at)
			at = at.Add(time.Duration(r.Int64N(int64(60*24*time.Hour))) - 29*24*time.Hour)
		}
		_, until := at.In(zone).ZoneBounds()
		for _, edge := range []time.Duration{-time.Second, -1, 0, 1, time.Second} {
			at := until.Add(edge)
			assert.Equal(t, CivilIn(at, zone), w.Civil(at), "%s %s", name, at)
		}
	}
}
