package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

func TestASlotIsNeededOrSaysWhyNot(t *testing.T) {
	const half = 4 * time.Hour // three floods a day
	nine, three := schedule.CivilOf(2026, 3, 2, 9, 0, 0), schedule.CivilOf(2026, 3, 2, 15, 0, 0)
	deadline := 2*time.Hour + time.Minute // queueFor after 15:00, as a minute before it
	for name, tt := range map[string]struct {
		state func(s *bench, k *cropClock, due time.Duration)
		pass  time.Duration // from 14:59
		is    why
	}{
		"nothing in its way": {func(*bench, *cropClock, time.Duration) {}, 0, floods},
		"skipped":            {func(s *bench, _ *cropClock, _ time.Duration) { s.skips = []Skip{{Slot: three}} }, 0, isSkipped},
		"another one is":     {func(s *bench, _ *cropClock, _ time.Duration) { s.skips = []Skip{{Slot: nine}} }, 0, floods},
		"the first to come is": {func(s *bench, _ *cropClock, _ time.Duration) {
			s.skips = []Skip{{Slot: 0}}
		}, 0, isSkipped},
		"skipped and late": {func(s *bench, _ *cropClock, _ time.Duration) { s.skips = []Skip{{Slot: three}} }, deadline, isSkipped},
		"flooded by elapsed time": {func(s *bench, _ *cropClock, due time.Duration) {
			s.stands = []Stand{{From: due + half, To: due + half}}
		}, 0, floodStands},
		"flooded too long after": {func(s *bench, _ *cropClock, due time.Duration) {
			s.stands = []Stand{{From: due + half + 1, To: due + half + 1}}
		}, 0, floods},
		"its flood by elapsed time was skipped": {func(s *bench, _ *cropClock, due time.Duration) {
			s.stands = []Stand{{From: due, To: due, Skipped: true}}
		}, 0, skipStands},
		"skipped both ways": {func(s *bench, _ *cropClock, due time.Duration) {
			s.skips, s.stands = []Skip{{Slot: three}}, []Stand{{From: due, To: due, Skipped: true}}
		}, 0, isSkipped},
		"a moment before its deadline": {func(*bench, *cropClock, time.Duration) {}, deadline - 1, floods},
		"at its deadline":              {func(*bench, *cropClock, time.Duration) {}, deadline, isLate},
		"it comes again": {func(s *bench, k *cropClock, due time.Duration) {
			s.lived, k.since = []Stretch{{nine, three}}, due-half-1
		}, 0, floods},
		"it comes again to a watered crop": {func(s *bench, k *cropClock, due time.Duration) {
			s.lived, k.since = []Stretch{{nine, three}}, due-half
		}, 0, comesAgain},
		"it comes for the first time to a watered crop": {func(s *bench, k *cropClock, due time.Duration) {
			s.lived, k.since = []Stretch{{nine, three - 1}}, due-half
		}, 0, floods},
		"it comes again and was left out": {func(s *bench, k *cropClock, due time.Duration) {
			s.lived, s.leftOut, k.since = []Stretch{{nine, three}}, []schedule.Civil{three}, due-half-1
		}, 0, comesAgain},
		"it comes for the first time and was left out": {func(s *bench, _ *cropClock, _ time.Duration) {
			s.leftOut = []schedule.Civil{three}
		}, 0, floods},
		"it comes again and late": {func(s *bench, k *cropClock, due time.Duration) {
			s.lived, k.since = []Stretch{{nine, three}}, due-half-1
		}, deadline, comesAgain},
		"it comes again, left out by a skip": {func(s *bench, k *cropClock, due time.Duration) {
			s.lived, s.skips, k.since = []Stretch{{nine, three}}, []Skip{{Slot: three}}, due-half
		}, 0, comesAgain},
	} {
		r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 14:59")
		r.turn()
		c := r.control
		p, ok := c.setup.Calendar.After(0, three-1)
		require.True(t, ok)
		tt.state(&c.benches[0], &c.crops[0], c.monoOf(p.Due))
		c.now.Mono, c.now.Wall = c.now.Mono+tt.pass, c.now.Wall.Add(tt.pass)
		u := unused()
		needed, because := c.needed(0, &p, &u)
		assert.Equal(t, tt.is, because, name)
		assert.Equal(t, tt.is == floods, needed, name)
	}
}

// What is said of the floods to come is what then becomes of them: a skip that
// names no slot, and a skipped flood by elapsed time, leave out one slot each.
func TestWhatLeavesOutOneSlotIsUsedOnce(t *testing.T) {
	for name, leave := range map[string]func(s *bench, now time.Duration){
		"a skip without a slot": func(s *bench, now time.Duration) { s.skips = []Skip{{Asked: now, Due: now}} },
		"a skipped flood by elapsed time": func(s *bench, now time.Duration) {
			s.stands = []Stand{{From: now, To: now + 24*time.Hour, Skipped: true}}
		},
	} {
		r := newRig(t, testSetup(1, 40*time.Hour, "09:00", "15:00", "21:00"), "2026-03-02 14:00")
		r.turn()
		leave(&r.control.benches[0], r.now.Mono)
		p, ok := r.control.nextFlood(0)
		require.True(t, ok)
		assert.Equal(t, schedule.CivilOf(2026, 3, 2, 21, 0, 0), p.Slot.Local, name)
		r.until("2026-03-02 22:00:00")
		assert.Equal(t, Skipped, r.slots()[schedule.CivilOf(2026, 3, 2, 15, 0, 0)].Outcome, name)
		assert.Equal(t, Proven, r.slots()[schedule.CivilOf(2026, 3, 2, 21, 0, 0)].Outcome, name)
	}
}
