package main

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
)

// Whoever goes before the loop has begun an act is told what becomes of it, and
// that is what becomes of it.
func TestWhatAnAskerWasToldIsWhatHappens(t *testing.T) {
	d := put(t, many(t, 1), idleMachine(t, many(t, 1)))
	d.loop.Turn()
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	p := d.loop.Picture()
	for name, ask := range map[string]func() error{
		"flood":     func() error { return d.live.Flood(gone, 0, 0) },
		"reset":     func() error { return d.live.Reset(gone, 0, "a leaf") },
		"resume":    func() error { return d.live.Resume(gone, []int{0}) },
		"hands out": func() error { return d.live.HandsIn(gone, false) },
		"rinsed":    func() error { return d.live.Rinsed(gone, 0, "") },
	} {
		err := ask()
		assert.ErrorIs(t, err, live.ErrUnavailable, name)
		assert.NotErrorIs(t, err, live.ErrNotKnown, name)
	}
	for name, ask := range map[string]func() error{
		"pause":    func() error { return d.live.Pause(gone, []int{0}, p.Status.Now.Wall.Add(time.Hour), "Kim") },
		"hands in": func() error { return d.live.HandsIn(gone, true) },
		"stop":     func() error { return d.live.Stop(gone, 0) },
		"sanitise": func() error { return d.live.Sanitise(gone, 0, "Kim") },
	} {
		assert.ErrorIs(t, ask(), live.ErrNotKnown, name)
	}
	require.NoError(t, d.loop.Run(gone))
	st := d.loop.Picture().Status
	assert.Equal(t, "Kim", st.Benches[0].PausedBy)
	assert.False(t, st.Benches[0].Sanitising.IsZero())
	assert.Zero(t, st.Benches[0].Queued, "no flood waits")
	assert.True(t, d.loop.Guard.State().HandsIn)
	assert.ErrorIs(t, d.live.Stop(t.Context(), 0), live.ErrUnavailable, "after the end")
}
