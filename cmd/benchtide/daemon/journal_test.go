package daemon

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got))
}

// story is one event of each kind, as a site could live through them.
func story() []controller.Event {
	due := time.Date(2026, 3, 30, 7, 30, 0, 0, time.UTC) // summer time on site
	good := controller.Flood{
		ID: 7, Due: due, Cause: controller.BySchedule, Hold: 6 * time.Minute, Strength: 0.5, Run: 543 * time.Second,
		Outcome: controller.Proven, Fill: 183107 * time.Millisecond, Stood: 6 * time.Minute, Fall: 129879 * time.Millisecond, Litres: 58.2,
	}
	bad := controller.Flood{ID: 8, Attempt: 1, Outcome: controller.Unproven, Reason: "fill-window: FULL was not made", Unrecorded: true}
	guard := func(e safety.Event) controller.Event {
		return controller.Event{Kind: controller.GuardActed, Bench: e.Bench, Output: -1, Guard: e}
	}
	events := []controller.Event{
		{Kind: controller.FloodIntended, Flood: good},
		{Kind: controller.PumpStarted, Flood: good},
		{Kind: controller.OutputChanged, Bench: -1, Output: 0, On: true},
		guard(safety.Event{Kind: safety.SwitchChanged, Switch: "full", Level: safety.Wet}),
		guard(safety.Event{Kind: safety.SwitchChanged, Bench: -1, Switch: "low", Level: safety.Dry}),
		guard(safety.Event{Kind: safety.SwitchChanged, Bench: -1, Switch: "hands_in", Level: safety.Wet}),
		{Kind: controller.FullMade, Flood: good},
		{Kind: controller.PumpStopped, Flood: good},
		{Kind: controller.FloodEnded, Flood: good},
		{Kind: controller.FloodRefused, Flood: bad, Refusal: safety.Refusal{Interlock: safety.NotEmpty, Detail: "FULL shows water"}},
		{Kind: controller.PumpStarted, Flood: bad},
		guard(safety.Event{Kind: safety.Tripped, Interlock: safety.FillWindow, Detail: "FULL was not made"}),
		guard(safety.Event{Kind: safety.RetryAllowed, Interlock: safety.FillWindow}),
		{Kind: controller.FloodRetry, Flood: bad},
		guard(safety.Event{Kind: safety.LatchedEvent, Interlock: safety.FillWindow, Latched: true, Detail: "FULL was not made"}),
		{Kind: controller.FloodEnded, Flood: bad},
		{Kind: controller.MessageSent, Message: controller.Message{Urgency: controller.Urgent, Cause: "fill-window", Text: "north: look at the hose."}},
		guard(safety.Event{Kind: safety.ResetEvent, Interlock: safety.FillWindow, Detail: "hose off"}),
		guard(safety.Event{Kind: safety.ProofTested, Switch: "high", Level: safety.Wet}),
		guard(safety.Event{Kind: safety.WeldProven, Detail: "the pump relay is welded"}),
		{Kind: controller.PauseBegan, Text: "until Mon 30 Mar 12:00"},
		{Kind: controller.PauseEnded, Text: "its time was up"},
		{Kind: controller.HandsInBegan, Bench: -1},
		{Kind: controller.HandsInEnded, Bench: -1},
		{Kind: controller.PlanChanged, Bench: -1, Text: "elapsed time"},
		{Kind: controller.ClockStepped, Bench: -1, Text: "+3600 s"},
	}
	for i := range events {
		events[i].At.Wall = due.Add(time.Duration(i) * time.Minute)
	}
	return events
}

func TestEventsAreReadableOnATerminalAndStructuredElsewhere(t *testing.T) {
	n := rehearse.Names(exampleSite(t))
	for name, form := range map[string]struct{ terminal, asJSON bool }{
		"journal-terminal.txt": {true, false},
		"journal.log":          {false, false},
		"journal.jsonl":        {true, true},
	} {
		var out bytes.Buffer
		newJournal(&out, form.terminal, form.asJSON).Turn(&loop.Turn{Events: story(), Names: &n})
		golden(t, name, out.Bytes())
	}
}
