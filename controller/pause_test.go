package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
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
	r.wantMessage("the flood of Mon 2 Mar 09:00 was refused. Paused (until Mon 2 Mar 14:00)")
	r.wantMessage("The next is planned for Tue 3 Mar 09:00.")
}

// A flood that waits says why it waits now, and until when: who prolongs a pause,
// or takes over from another, is who is named in the end.
func TestARefusalSaysWhatKeepsTheFloodNow(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	pause := func(hours time.Duration, by string) {
		require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(hours*time.Hour), by))
		r.turn()
	}
	waits := func() safety.Refusal { return r.control.benches[0].queue[0].refusal }
	pause(2, "the caretaker")
	r.until("2026-03-02 09:00:00")
	require.Equal(t, safety.Refusal{Interlock: Paused, Detail: "until Mon 2 Mar 10:00 by the caretaker", Until: r.now.Mono + time.Hour}, waits())
	pause(5, "the gardener")
	assert.Equal(t, safety.Refusal{Interlock: Paused, Detail: "until Mon 2 Mar 14:00 by the gardener", Until: r.now.Mono + 5*time.Hour}, waits())
	pause(4, "the gardener")
	assert.Equal(t, r.now.Mono+4*time.Hour, waits().Until, "also nearer again")
	refused := 0
	for _, e := range r.events {
		if e.Kind == FloodRefused {
			refused++
		}
	}
	assert.Equal(t, 1, refused, "told once")
	r.until("2026-03-02 11:00:00")
	assert.Equal(t, "paused: until Mon 2 Mar 13:00 by the gardener", r.rows()[0].Reason)
	r.wantMessage("Paused (until Mon 2 Mar 13:00 by the gardener)")
}

// Of an outage whose length is not known a pause loses nothing: it may last longer
// than was meant, never shorter. Once the length is known it ends when it was to.
func TestAPauseLosesNothingToAnOutageOfUnknownLength(t *testing.T) {
	for name, sameAgain := range map[string]bool{"one": false, "two in a row": true} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 10:00")
		r.run(time.Hour)
		meant := r.now.Wall.Add(8 * time.Hour)
		require.NoError(t, r.control.Pause(r.now, 0, meant, ""))
		r.run(time.Hour)
		left := func() time.Duration { return r.control.benches[0].pause.until - r.now.Mono }
		was := left()
		boots := []string{"a second"}
		if sameAgain {
			boots = append(boots, "a third")
		}
		for _, boot := range boots {
			s := r.down(90 * time.Minute)
			r.now.Mono, r.now.Trusted = time.Minute, false
			r.up(s, boot)
			r.turn()
			require.Equal(t, was, left(), "%s: %s", name, boot)
		}
		made := r.now.Mono
		r.run(time.Minute)
		require.Equal(t, was-time.Minute, left(), name)
		require.Less(t, r.control.benches[0].pause.made, made, "%s: it was made before", name)
		r.now.Trusted = true
		r.turn()
		assert.WithinDuration(t, meant, r.now.Wall.Add(left()), 2*time.Second, name)
		assert.WithinDuration(t, meant, r.control.benches[0].pause.untilWall, 2*time.Second, name)
	}

	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 10:00")
	r.run(time.Hour)
	s := r.down(90 * time.Minute)
	r.now.Mono, r.now.Trusted = time.Minute, false
	r.up(s, "a second")
	r.turn()
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(8*time.Hour), ""))
	was := r.control.benches[0].pause.until - r.now.Mono
	r.now.Trusted = true
	r.turn()
	assert.Equal(t, was, r.control.benches[0].pause.until-r.now.Mono, "one that was made since moves by nothing")
}
