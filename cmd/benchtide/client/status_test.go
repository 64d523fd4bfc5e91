package client

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/live"
	reads "benchtide/controller/texts/plain"
)

// A clock that is not trusted leaves the calendar, not the bench, without floods.
func TestStatusSaysWhatTheNextFloodFollows(t *testing.T) {
	for plan, says := range map[string]string{"calendar": "no flood is planned", "elapsed": "the next flood follows elapsed time"} {
		var out bytes.Buffer
		require.NoError(t, writeStatus(&out, &live.Status{Plan: plan, Benches: []live.BenchStatus{{Name: "north"}}}))
		assert.Contains(t, out.String(), says)
	}
}

func TestStatusNamesTheFloodsThatAreSkipped(t *testing.T) {
	slot := "2026-03-12T15:00:00+00:00"
	for _, c := range []struct {
		skipped []live.SkippedFlood
		want    string
	}{
		{[]live.SkippedFlood{{Slot: &slot, Due: slot}}, "skipped Thu 12 Mar 15:00: left out by a person"},
		{[]live.SkippedFlood{{Due: slot}}, "skipped: a person left out the next flood"},
		{nil, ""},
	} {
		var out bytes.Buffer
		require.NoError(t, writeStatus(&out, &live.Status{Benches: []live.BenchStatus{{Name: "north", Skipped: c.skipped}}}))
		assert.Contains(t, out.String(), c.want)
		assert.Equal(t, c.want != "", strings.Contains(out.String(), "skipped"))
	}
}

// Whatever locks, refuses or ends a flood, the status on a terminal says it as
// people speak.
func TestStatusReadsAsPeopleSpeak(t *testing.T) {
	codes := []string{"high-level", "not-empty", "fill-window", "drain-window", "max-run", "daily-run", "min-rest", "reservoir-low", "lost-water", "state-lost", "restart-storm"}
	at := "2026-03-12T08:36:00+00:00"
	for _, code := range append(codes, "leak", "stale", "stalled", "chatter", "implausible", "starts", "cold") {
		for _, outcome := range []controller.Outcome{controller.Short, controller.Unproven, controller.Interrupted, controller.Refused, controller.Missed} {
			detail := `HIGH of bench "north" shows water or its wire is open`
			trip := live.LatchedTrip{At: at, Interlock: code, Detail: detail}
			free := live.BenchStatus{Name: "north", Refusal: &live.Refusal{Interlock: code, Detail: detail}, Last: &controller.Row{Bench: "north", Slot: at, Outcome: outcome, Reason: code + ": " + detail}}
			locked := live.BenchStatus{Name: "south", Latched: []live.LatchedTrip{trip}}
			st := live.Status{At: at, Benches: []live.BenchStatus{free, locked}, Left: []live.LeftBench{{Name: "east", Latched: []live.LatchedTrip{trip}}}}
			st.Attend()
			var out bytes.Buffer
			require.NoError(t, writeStatus(&out, &st))
			for _, line := range strings.Split(out.String(), "\n") {
				assert.Empty(t, reads.Faults(line, codes, nil))
			}
		}
	}
}
