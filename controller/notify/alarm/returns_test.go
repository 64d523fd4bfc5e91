package alarm

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

// latched is a snapshot with a trip on the first bench.
func latched(i safety.Interlock) *controller.Status {
	return &controller.Status{Benches: []controller.BenchStatus{{Latched: []safety.Trip{{Interlock: i, Detail: "wet"}}}, {}}}
}

func TestLatchedTripThatNobodyToldOfIsRaisedFromTheSnapshot(t *testing.T) {
	r := newRig(t)
	assert.True(t, r.See(r.now(), latched(safety.FillWindow)))
	assert.False(t, r.See(r.now(), latched(safety.FillWindow)), "once")
	r.until(time.Minute)
	assert.Equal(t, []string{"0s arose fill-window"}, r.told)
	st := &controller.Status{Benches: make([]controller.BenchStatus, 2), Batches: []controller.BatchStatus{{Ratio: 1.2}}}
	r.See(r.now(), st)
	r.until(2 * time.Minute)
	assert.Equal(t, "1m0s arose crop-basil", r.told[2], r.told)
}

func TestWhatEndsByItselfReturnsByTheSnapshot(t *testing.T) {
	for _, c := range []struct {
		message  controller.Message
		standing controller.Status
	}{
		{message(controller.Today, -1, "low-tank"), controller.Status{Reservoirs: []controller.ReservoirStatus{{Low: safety.Dry}}}},
		{message(controller.Today, -1, "hands-in"), controller.Status{HandsIn: true}},
		{message(controller.Today, -1, "clock"), controller.Status{}},
		{message(controller.Today, 0, "sanitising"), controller.Status{Benches: []controller.BenchStatus{{Sanitising: start}, {}}}},
		{message(controller.Urgent, 0, "weld"), *latched(safety.DrainWindow)},
	} {
		r := newRig(t)
		r.Raise(r.now(), c.message)
		r.until(time.Minute)
		r.See(r.now(), &c.standing)
		require.NotEmpty(t, r.Alarms(), c.message.Cause)
		assert.True(t, r.Alarms()[0].Active, c.message.Cause)
		r.See(r.now(), &controller.Status{
			Now: safety.Now{Trusted: true}, Benches: make([]controller.BenchStatus, 2), Reservoirs: []controller.ReservoirStatus{{Low: safety.Wet}},
		})
		for _, a := range r.until(2 * time.Minute).Alarms() {
			assert.Equal(t, Returned, a.State(), c.message.Cause)
		}
	}
}

func TestUrgentMatterThatIsOverAtOnceIsToldAllTheSame(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "leak"))
	r.See(r.now(), &controller.Status{Benches: make([]controller.BenchStatus, 2)})
	n := r.Step(r.now())
	require.Len(t, n, 1)
	assert.Contains(t, n[0].Body, "It is over already.")
	assert.Empty(t, r.until(time.Hour).told)
	assert.Equal(t, Returned, r.Alarms()[0].State())
}
