package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/safety"
)

// good is a flood that went as it should: every case below breaks one thing.
func good() ending {
	return ending{full: true, fullAt: 10 * time.Minute, stood: 6 * time.Minute, hold: 6 * time.Minute}
}

func TestOutcomeIsTheFirstThatMatches(t *testing.T) {
	trip := safety.Trip{Interlock: safety.HighLevel, Detail: "HIGH made"}
	low := safety.Trip{Interlock: safety.ReservoirLow, Detail: "counted out"}
	tests := []struct {
		name   string
		change func(*ending)
		want   Outcome
		reason string
		counts bool
	}{
		{"a good flood is proven", func(e *ending) {}, Proven, "", true},
		{"a person ends it before anything else counts", func(e *ending) { e.person = "stopped by hand"; e.fullAt = 0 }, Interrupted, "stopped by hand", false},
		{"a person ends it in a complete hold", func(e *ending) { e.person = "stopped by hand" }, Interrupted, "stopped by hand", true},
		{"FULL never made, whatever ended it", func(e *ending) { e.fullAt, e.stood = 0, 0; e.trip = trip }, Unproven, "high-level: HIGH made", false},
		{"FULL never made and nothing tripped", func(e *ending) { e.fullAt, e.stood = 0, 0 }, Unproven, "FULL was never made", false},
		{"a trip cuts the hold", func(e *ending) { e.trip = trip; e.stood = time.Minute }, Interrupted, "high-level: HIGH made", false},
		{"a trip cuts the second half of the hold", func(e *ending) { e.trip = trip; e.stood = 3 * time.Minute }, Interrupted, "high-level: HIGH made", true},
		{"one second short is the flicker of waves", func(e *ending) { e.stood -= time.Second }, Proven, "", true},
		{"more than that is short", func(e *ending) { e.stood -= time.Second + time.Millisecond }, Short, "FULL stood for 5 min 59 s of 6 min", true},
		{"short comes before late", func(e *ending) { e.stood = time.Minute; e.late = true }, Short, "FULL stood for 1 min of 6 min", false},
		{"the litres counted out after FULL leave it short", func(e *ending) { e.trip, e.stood = low, 2*time.Minute }, Short, "FULL stood for 2 min of 6 min; reservoir-low: counted out", false},
		{"counted out in the second half it still counts", func(e *ending) { e.trip, e.stood = low, 3*time.Minute }, Short, "FULL stood for 3 min of 6 min; reservoir-low: counted out", true},
		{"counted out at the end of the hold", func(e *ending) { e.trip = low }, Proven, "", true},
		{"a timed flood counted out in the second half of its hold", func(e *ending) {
			*e = ending{hold: 4 * time.Minute, fill: 3 * time.Minute, ran: 5 * time.Minute, trip: low}
		}, Unproven, "reservoir-low: counted out", true},
		{"a timed flood counted out before that", func(e *ending) {
			*e = ending{hold: 4 * time.Minute, fill: 3 * time.Minute, ran: 5*time.Minute - time.Second, trip: low}
		}, Unproven, "reservoir-low: counted out", false},
		{"a timed flood that a person ends", func(e *ending) { *e = ending{person: "stopped by hand"} }, Interrupted, "stopped by hand", false},
		{"water not gone in time", func(e *ending) { e.late = true }, Unproven, "the water was not gone in time", true},
		{"a latch in the drain", func(e *ending) { e.latched = safety.Trip{Interlock: safety.DrainWindow}; e.late = true }, Unproven, "drain-window", true},
		{"a timed flood is believed, not proven", func(e *ending) { *e = ending{hold: time.Minute} }, Unproven, "timed: no FULL switch to prove it", true},
		{"a timed flood that tripped does not count", func(e *ending) { *e = ending{trip: trip} }, Unproven, "high-level: HIGH made", false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			e := good()
			tt.change(&e)
			got, reason := outcomeOf(e)
			assert.Equal(t, tt.want, got)
			assert.Equal(t, tt.reason, reason)
			assert.Equal(t, tt.counts, counts(e))
		})
	}
}
