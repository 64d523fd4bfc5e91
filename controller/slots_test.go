package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// A cycle of the tests takes 4 min of fill, 8 min of the longest hold and 12 min
// of drain.
func TestACycleIsFillHoldAndDrain(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	assert.Equal(t, 24*time.Minute, s.cycle(0, s.Limits.Benches[0].MaxHold))
}

func TestDeadlineOfASlot(t *testing.T) {
	two := apart(eachSetup(48*time.Hour, []string{"09:00"}, []string{"09:00"}))
	for name, tt := range map[string]struct {
		setup    Setup
		slot     string
		deadline []string // by bench
	}{
		"two hours":                          {eachSetup(48*time.Hour, []string{"09:00"}), "2026-03-02 09:00", []string{"11:00"}},
		"a cycle before the next":            {eachSetup(48*time.Hour, []string{"09:00", "10:30"}), "2026-03-02 09:00", []string{"10:06"}},
		"but a cycle at least":               {eachSetup(48*time.Hour, []string{"09:00", "09:30"}), "2026-03-02 09:00", []string{"09:24"}},
		"in a group from its last":           {eachSetup(48*time.Hour, []string{"09:00"}, []string{"09:00"}, []string{"09:00"}), "2026-03-02 09:00", []string{"11:48", "11:48", "11:48"}},
		"in a group a turn and a cycle":      {eachSetup(48*time.Hour, []string{"09:00", "09:30"}, []string{"09:00", "09:30"}, []string{"09:00", "09:30"}), "2026-03-02 09:00", []string{"09:24", "09:48", "10:12"}},
		"not with other times":               {eachSetup(48*time.Hour, []string{"09:00"}, []string{"09:05"}), "2026-03-02 09:00", []string{"11:00"}},
		"past one with another time":         {eachSetup(48*time.Hour, []string{"09:05"}, []string{"09:00"}, []string{"09:00"}), "2026-03-02 09:00", []string{"09:24", "11:24", "11:24"}},
		"not with another reservoir":         {two, "2026-03-02 09:00", []string{"11:00", "11:00"}},
		"in a gap by what the clock was for": {eachSetup(48*time.Hour, []string{"01:10"}, []string{"01:40"}), "2026-03-29 01:10", []string{"04:00"}},
		"in a gap with the next behind it":   {eachSetup(48*time.Hour, []string{"01:10", "01:40", "03:00"}), "2026-03-29 01:10", []string{"02:36"}},
	} {
		c, err := New(tt.setup, newRig(t, tt.setup, "2026-03-01 08:00").now)
		require.NoError(t, err)
		slot, err := schedule.ParseCivil(tt.slot)
		require.NoError(t, err)
		for b, want := range tt.deadline {
			assert.Equal(t, want, c.deadline(b, slot, slot.In(dublin)).In(dublin).Format("15:04"), "%s: bench %d", name, b)
		}
	}
}

func TestASetupThatDoesNotFitTogetherIsRefused(t *testing.T) {
	for want, change := range map[string]func(*Setup){
		"stands on bench -1 of 2": func(s *Setup) { s.Batches[0].Bench = -1 },
		"stands on bench 2 of 2":  func(s *Setup) { s.Batches[1].Bench = 2 },
		"follows plan -1 of 1":    func(s *Setup) { s.Batches[0].Plan = -1 },
		"follows plan 1 of 1":     func(s *Setup) { s.Batches[1].Plan = 1 },
		"no calendar":             func(s *Setup) { s.Calendar = nil },
	} {
		s := testSetup(2, 48*time.Hour, "09:00")
		now := newRig(t, s, "2026-03-02 08:00").now
		change(&s)
		_, err := New(s, now)
		assert.ErrorContains(t, err, want)
	}
}

func TestASlotIsGivenUpAtItsDeadline(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 11:00")
	r.turn()
	slot := schedule.CivilOf(2026, 3, 2, 9, 0, 0)
	r.control.resumeFlood(Flood{ID: 1, HasSlot: true, Slot: slot, Due: slot.In(dublin)})
	assert.Empty(t, r.control.benches[0].queue)
	assert.Equal(t, Missed, r.control.benches[0].last.Outcome)
}

func TestTheOtherReservoirsBenchesTakeNoTurnInAGroup(t *testing.T) {
	s := testSetup(3, 48*time.Hour, "09:00")
	s.Limits.Reservoirs = append(s.Limits.Reservoirs, s.Limits.Reservoirs[0])
	s.Limits.Benches[1].Reservoir = 1
	r := newRig(t, s, "2026-03-01 08:00")
	slot := schedule.CivilOf(2026, 3, 2, 9, 0, 0)
	for b, want := range []string{"11:24", "11:00", "11:24"} {
		assert.Equal(t, want, r.control.deadline(b, slot, slot.In(dublin)).In(dublin).Format("15:04"))
	}
}

func TestEveryFloodThatWaitsHasItsEnd(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 09:30:00")
	r.tables[0].lowDry = true
	r.until("2026-03-03 09:30:00") // the slot waits
	require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
	require.Len(t, r.control.benches[0].queue, 2)
	r.until("2026-03-03 11:29:00") // the one by hand, at the head, still does
	assert.Len(t, r.control.benches[0].queue, 1)
	r.until("2026-03-03 11:31:00")
	require.Len(t, r.rows(), 3)
	for _, f := range r.rows()[1:] {
		assert.Equal(t, Refused, f.Outcome)
	}
	assert.Len(t, r.slots(), 2)
}

func TestTheTurnsOfAGroupAreAsLongAsEachBenchTakes(t *testing.T) {
	s := testSetup(3, 48*time.Hour, "09:00")
	for b, hold := range []time.Duration{8, 20, 12} {
		s.Limits.Benches[b].MaxHold = hold * time.Minute
	}
	r := newRig(t, s, "2026-03-01 08:00")
	slot := schedule.CivilOf(2026, 3, 2, 9, 0, 0)
	var before time.Duration
	all := s.cycle(0, 8*time.Minute) + s.cycle(1, 20*time.Minute)
	for b := range 3 {
		own, last := r.control.turns(b, slot, slot.In(dublin))
		assert.Equal(t, before, own, b)
		assert.Equal(t, all, last, b)
		before += s.cycle(b, s.Limits.Benches[b].MaxHold)
	}
}

// A slot that came again and wants no flood keeps the one after it waiting for
// nothing.
func TestTheSlotAfterOneThatCameAgainIsInTime(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "09:40"), "2026-03-02 08:00")
	r.turn()
	r.control.benches[0].live(Stretch{0, civil("2026-03-02 09:00")})
	r.until("2026-03-02 10:30:00")
	require.Len(t, r.rows(), 1)
	assert.Equal(t, "09:40", r.rows()[0].Started.In(dublin).Format("15:04"))
}
