package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func (r *rig) status() (st Status) {
	r.control.StatusInto(&st)
	return st
}

func TestStatusIsThereBeforeTheFirstTurn(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	st := r.status()
	assert.Equal(t, []ReservoirStatus{{Low: safety.Absent, Basis: Unknown, Since: r.now.Wall}}, st.Reservoirs)
	assert.True(t, st.Calendar)
	assert.False(t, st.HandsIn)
	assert.Equal(t, "09:00", st.Benches[0].Next.Due.In(dublin).Format("15:04"))
}

func TestStatusBelievesTheLowSwitchLessWhatStandsOnATable(t *testing.T) {
	for _, tt := range []struct {
		name          string
		low, dry      bool
		rest, flooded safety.Litres
	}{
		{"a made low switch proves its litres", true, false, 140, 140 - 70},
		{"a clear one proves nothing", true, true, 0, 0},
		{"without one nothing is known", false, false, 0, 0},
	} {
		s := testSetup(1, 48*time.Hour, "09:00")
		s.Limits.Reservoirs[0].Low = tt.low
		r := newRig(t, s, "2026-03-02 08:00")
		r.tables[0].lowDry = tt.dry
		r.until("2026-03-02 08:30:00")
		assert.Equal(t, tt.rest, r.status().Reservoirs[0].Litres, tt.name)
		r.until("2026-03-02 09:05:00")
		assert.Equal(t, tt.flooded, r.status().Reservoirs[0].Litres, tt.name)
	}
}

func TestStatusCountsAFloodFromTheStartOfItsPumpUntilItsWaterIsGone(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.storage = false
	r.until("2026-03-02 09:00:02")
	require.Equal(t, Recording, r.status().Benches[0].Phase)
	assert.EqualValues(t, 140, r.status().Reservoirs[0].Litres)
	r.until("2026-03-02 09:01:00")
	require.Equal(t, Filling, r.status().Benches[0].Phase)
	assert.EqualValues(t, 140-70, r.status().Reservoirs[0].Litres)
	assert.EqualValues(t, 140, r.status().Reservoirs[0].Whole, "with what is on the table")
	r.tables[0].lowDry = true
	r.run(10 * time.Second)
	assert.EqualValues(t, 140-70, r.status().Reservoirs[0].Litres, "the flood took it")
	r.tables[0].lowDry = false
	r.until("2026-03-02 10:00:00")
	assert.EqualValues(t, 140, r.status().Reservoirs[0].Litres)
	assert.Zero(t, r.status().Reservoirs[0].Whole)
}

func TestStatusKnowsTheLastFloodAndTheLastOneThatWasProven(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.until("2026-03-02 10:00:00")
	r.tables[0].dead = true
	r.until("2026-03-02 16:00:00")
	st := r.status()
	rows := r.rows()
	require.Len(t, rows, 2)
	assert.Equal(t, rows[0].Ended, st.Benches[0].LastProven)
	assert.Equal(t, rows[1].ID, st.Benches[0].Last.ID)
	assert.NotEmpty(t, st.Benches[0].Latched)
	since := r.now.Wall.Sub(rows[0].Started.Add(10 * time.Minute))
	assert.InDelta(t, since.Seconds(), st.Batches[0].Since.Seconds(), 5)
	assert.InDelta(t, since.Hours()/48, st.Batches[0].Ratio, 0.001)
}

func TestStatusSaysWhenAPhaseBegan(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	for _, tt := range []struct {
		at    string
		phase Phase
		since time.Duration // after 09:00
	}{{"09:02:00", Filling, 0}, {"09:06:00", Holding, 4 * time.Minute}, {"09:11:00", Draining, 10 * time.Minute}} {
		r.until("2026-03-02 " + tt.at)
		st := r.status().Benches[0]
		assert.Equal(t, tt.phase, st.Phase)
		assert.InDelta(t, (r.now.Mono - st.Since).Seconds(), r.now.Wall.Sub(time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC).Add(tt.since)).Seconds(), 4, tt.at)
	}
}
