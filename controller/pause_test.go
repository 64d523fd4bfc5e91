package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAPauseHasAnEndWithinTwoWeeks(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	pause := func(d time.Duration) error { return r.control.Pause(r.now, 0, r.now.Wall.Add(d), "") }
	assert.ErrorContains(t, pause(0), "08:00 has passed")
	assert.ErrorContains(t, pause(14*tomorrow+1), "is longer than 14 days")
	assert.NoError(t, pause(14*tomorrow))
	assert.NoError(t, pause(1))
}

func TestAPauseIsLiftedByHandOnce(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(10*time.Hour), "the caretaker"))
	r.until("2026-03-02 09:30:00")
	assert.Equal(t, "until Mon 2 Mar 18:00 by the caretaker", r.control.benches[0].queue[0].refusal.Detail)
	require.NoError(t, r.control.Resume(r.now, 0))
	assert.ErrorContains(t, r.control.Resume(r.now, 0), "it is not paused")
	r.run(time.Hour)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(time.Hour), ""))
	assert.Equal(t, "until Mon 2 Mar 11:30", r.control.benches[0].pause.text(r.control))
}

func TestAPlannedFloodThatAPauseOutlastsIsRefusedAndTold(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(6*time.Hour), ""))
	r.until("2026-03-02 10:59:00")
	assert.Empty(t, r.messages, "nobody is told of what a person wanted, until the slot is given up")
	r.until("2026-03-02 11:00:00")
	r.wantMessage("the flood of Mon 2 Mar 09:00 is refused: paused: until Mon 2 Mar 14:00")
	r.wantMessage("The next is planned for Tue 3 Mar 09:00.")
}
