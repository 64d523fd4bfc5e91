package web_test

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
	"benchtide/schedule"
)

func TestASkipSaysWhichFloodAndHowItIsTakenBack(t *testing.T) {
	for _, c := range []struct{ path, body, done, undo string }{
		{"/skip-next", `{"bench":"north","slot":"2026-03-12T15:00:00+00:00"}`, "north leaves out the flood of Thu 12 Mar 15:00; the crop clock goes on",
			`{"act":"undo-skip","body":{"bench":"north","slot":"2026-03-12T15:00:00+00:00"},"words":"undo"}`},
		{"/skip-next", `{"bench":"north"}`, "north leaves out the next flood by elapsed time; the crop clock goes on",
			`{"act":"undo-skip","body":{"bench":"north","slot":""},"words":"undo"}`},
		{"/undo-skip", `{"bench":"north","slot":"2026-03-12T15:00:00+00:00"}`, "north: the flood of Thu 12 Mar 15:00 comes as planned",
			`{"act":"skip-next","body":{"bench":"north","slot":"2026-03-12T15:00:00+00:00"},"words":"skip it again"}`},
	} {
		w := newRig(t).request("POST", c.path, c.body)
		require.Equal(t, http.StatusOK, w.Code, w.Body.String())
		var done struct {
			Done string
			Undo json.RawMessage
		}
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &done))
		assert.Equal(t, c.done, done.Done)
		assert.JSONEq(t, c.undo, string(done.Undo))
	}
}

// A flood that waited for its turn is left out at once: there is nothing to take
// back, but a flood by hand.
func TestASkipWhoseTimeHasComeCannotBeTakenBack(t *testing.T) {
	r := newRig(t)
	r.site.skipped = noon
	w := r.request("POST", "/skip-next", `{"bench":"north"}`)
	assert.Contains(t, w.Body.String(), `"act":"flood"`)
}

func TestASkippedSlotKeepsItsFiguresInAGapOfTheZone(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	slot := schedule.CivilOf(2026, 3, 29, 1, 30, 0)
	s := live.Skipped(schedule.Planned{Slot: schedule.Slot{Local: slot}, Due: slot.In(zone)}, zone)
	assert.Equal(t, "2026-03-29T01:30:00+00:00", *s.Slot)
	assert.Equal(t, "2026-03-29T02:00:00+01:00", s.Due)
}
