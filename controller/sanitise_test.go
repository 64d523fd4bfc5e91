package controller

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSanitisingKeepsPlannedFloodsOffTheWholeReservoirUntilRinsedIsConfirmed(t *testing.T) {
	r := newRig(t, testSetup(2, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Sanitise(r.now, 0, "Kim"))
	require.ErrorContains(t, r.control.Sanitise(r.now, 1, ""), "sanitised already", "the benches share their water")
	r.run(3*24*time.Hour + 10*time.Minute)
	require.Len(t, r.rows(), 6)
	for _, f := range r.rows() {
		assert.Equal(t, Refused, f.Outcome)
		assert.Contains(t, f.Reason, "sanitising: since Mon 2 Mar 08:00 by Kim; it ends when rinsed is confirmed")
	}
	for i := range r.setup.Batches {
		assert.Greater(t, r.control.CropRatio(i), 2.0, "the crop clock goes on")
	}
	told := strings.Join(r.messages, "\n")
	assert.Equal(t, 3, strings.Count(told, "nothing floods by itself, as it is being sanitised"), "a day apart, once for the reservoir")
	assert.Equal(t, 3, strings.Count(told, "today: north: nothing floods by itself"))
	assert.Contains(t, told, "now: basil north on north", "plants that stand there are not forgotten")

	require.NoError(t, r.control.Rinsed(r.now, 1, "Kim"))
	require.ErrorContains(t, r.control.Rinsed(r.now, 0, ""), "not being sanitised")
	r.messages = nil
	r.run(24 * time.Hour)
	for b := range 2 {
		assert.Equal(t, Proven, r.control.benches[b].last.Outcome)
	}
	told = strings.Join(r.messages, "\n")
	assert.Equal(t, 2, strings.Count(told, "the first flood after rinsing is proven. It filled in"), "%s", told)
}

func TestAFloodByHandBringsSanitiserThroughThePumpAndWatersNoCrop(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 10:00")
	r.run(2 * time.Hour)
	require.NoError(t, r.control.Sanitise(r.now, 0, ""))
	require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
	r.turn()
	require.ErrorContains(t, r.control.Rinsed(r.now, 0, ""), "a flood is under way on north")
	r.run(time.Hour)
	f := r.rows()[0]
	assert.Equal(t, Proven, f.Outcome)
	assert.False(t, f.Counted)
	r.turn()
	assert.InDelta(t, 3.0/30, r.control.CropRatio(0), 0.01)

	require.NoError(t, r.control.Rinsed(r.now, 0, ""))
	require.NoError(t, r.control.Flood(r.now, 0, time.Minute))
	r.turn()
	require.ErrorContains(t, r.control.Sanitise(r.now, 0, ""), "a flood is under way on north")
	r.run(time.Hour)
	assert.True(t, r.rows()[1].Counted)
}

func TestSanitisingOutlastsTheProgramAndThePower(t *testing.T) {
	for name, sameBoot := range map[string]bool{"the program": true, "the power": false} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
			r.turn()
			require.NoError(t, r.control.Sanitise(r.now, 0, "Kim"))
			r.restart(3*24*time.Hour, sameBoot)
			r.run(26 * time.Hour)
			for _, f := range r.rows() {
				assert.NotEqual(t, Proven, f.Outcome)
			}
			var st Status
			r.control.StatusInto(&st)
			assert.Equal(t, "2026-03-02T08:00:00+00:00", Stamp(st.Benches[0].Sanitising, dublin))
			require.NoError(t, r.control.Rinsed(r.now, 0, ""))
			r.restart(time.Minute, sameBoot)
			r.run(24 * time.Hour)
			assert.Contains(t, strings.Join(r.messages, "\n"), "the first flood after rinsing is proven")
		})
	}
}

func TestAfterRinsingEveryBenchOfTheReservoirIsCaughtUp(t *testing.T) {
	r := newRig(t, testSetup(2, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Sanitise(r.now, 0, ""))
	r.until("2026-03-04 12:00:00")
	require.NoError(t, r.control.Rinsed(r.now, 0, ""))
	r.until("2026-03-04 15:00:00")
	for b := range 2 {
		last := r.control.benches[b].last
		assert.Equal(t, ByCatchUp, last.Cause, b)
		assert.Equal(t, Proven, last.Outcome, b)
	}
}

func TestEveryReservoirIsRemindedOfItsSanitising(t *testing.T) {
	r := newRig(t, apart(testSetup(2, 30*time.Hour, "09:00")), "2026-03-02 08:00")
	r.turn()
	require.NoError(t, r.control.Sanitise(r.now, 1, ""))
	r.run(49 * time.Hour)
	assert.Equal(t, 2, strings.Count(strings.Join(r.messages, "\n"), "today: south: nothing floods by itself"))
}
