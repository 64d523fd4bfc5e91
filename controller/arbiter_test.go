package controller

import (
	"testing"
	"time"

	"benchtide/safety"
	"benchtide/schedule"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAFreeReservoirIsNotKeptWaitingByAnother(t *testing.T) {
	r := newRig(t, apart(eachSetup(48*time.Hour, []string{"09:00"}, []string{"09:05"})), "2026-03-02 08:00")
	r.until("2026-03-02 09:06:00")
	assert.True(t, r.command.On(1) && r.command.On(2))
}

func TestTheReservoirsTakeTheirTurnsByThemselves(t *testing.T) {
	r := newRig(t, apart(testSetup(3, 48*time.Hour, "09:00")), "2026-03-02 08:00")
	r.until("2026-03-02 09:02:00")
	assert.Equal(t, []bool{true, false, true}, []bool{r.command.On(1), r.command.On(2), r.command.On(3)}, "north and east, on a reservoir each")
	r.run(2 * time.Hour)
	for _, f := range r.rows() {
		assert.Equal(t, Proven, f.Outcome)
	}
}

func TestAProgramThatMayNotFloodUnattendedFloodsByHand(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Unattended = "not commissioned"
	r := newRig(t, s, "2026-03-02 08:00")
	r.until("2026-03-02 09:30:00")
	assert.False(t, r.command.On(1))
	r.wantMessage("may not start. Floods by hand alone (not commissioned)")
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.run(time.Hour)
	for _, f := range r.rows() {
		if f.Cause == ByHand {
			assert.Equal(t, Proven, f.Outcome)
		}
	}
	r.until("2026-03-02 11:00:01")
	assert.Equal(t, Refused, r.slots()[schedule.CivilOf(2026, 3, 2, 9, 0, 0)].Outcome)
	require.Len(t, r.rows(), 2)
}

func TestRefusalsOfTheGuardThatPassAreTriedWhenTheyDo(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	v := *r.guard.Observe(r.now, r.readings)
	v.Benches[0].Start = safety.Refusal{Interlock: safety.Starts, Until: r.now.Mono + 90*time.Minute}
	r.control.Step(r.now, &v)
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.control.Step(r.now, &v)
	assert.Equal(t, r.now.Mono+time.Hour, r.control.Next(), "the slot of nine o'clock")
	v.Benches[0].Start.Until = r.now.Mono + time.Minute
	r.control.Step(r.now, &v)
	assert.Equal(t, r.now.Mono+time.Minute, r.control.Next())
}
