package main

import (
	"bytes"
	"flag"
	"log/slog"
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
	"benchtide/schedule"
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

// A day with a good flood, then one whose standpipe and drain are blocked.
func TestEventsAreReadableOnATerminalAndStructuredElsewhere(t *testing.T) {
	site := exampleSite(t)
	var terminal, text, object bytes.Buffer
	n := namesOf(site)
	sinks := []loop.Sink{newJournal(n, &terminal, true, false), newJournal(n, &text, false, false), newJournal(n, &object, true, true)}
	scenario := rehearse.Plain(schedule.DateOf(2026, 3, 12), 1, 1)
	scenario.Faults = []rehearse.Fault{{What: "drain-blocked", Where: "north", Size: 1, At: time.Date(2026, 3, 12, 12, 0, 0, 0, time.UTC)}}
	_, err := rehearse.Run(t.Context(), site, scenario, rehearse.Options{Sinks: sinks})
	require.NoError(t, err)
	golden(t, "terminal.txt", terminal.Bytes())
	golden(t, "structured.txt", text.Bytes())
	assert.Equal(t, bytes.Count(terminal.Bytes(), []byte("\n")), bytes.Count(object.Bytes(), []byte("\n")), "one line an event in either form")
}

// Every kind of event has words of its own, whatever the rest of it says.
func TestEveryKindOfEventIsNamed(t *testing.T) {
	n := namesOf(exampleSite(t))
	seen := map[string]bool{}
	name := func(e controller.Event) {
		d := n.describe(&e)
		assert.NotEmpty(t, d.kind, "%+v", e)
		assert.NotEmpty(t, d.text, "%+v", e)
		assert.False(t, seen[d.kind], d.kind)
		seen[d.kind] = true
	}
	for k := controller.FloodIntended; k <= controller.OutputChanged; k++ {
		if k != controller.GuardActed {
			name(controller.Event{Kind: k})
		}
	}
	for k := safety.Tripped; k <= safety.RetryAllowed; k++ {
		name(controller.Event{Kind: controller.GuardActed, Guard: safety.Event{Kind: k}})
	}
}

func TestUrgencySetsTheLevel(t *testing.T) {
	n := namesOf(exampleSite(t))
	for u, want := range map[controller.Urgency]slog.Level{
		controller.Urgent: slog.LevelError, controller.Today: slog.LevelWarn, controller.ThisWeek: slog.LevelInfo,
	} {
		e := controller.Event{Kind: controller.MessageSent, Message: controller.Message{Urgency: u}}
		assert.Equal(t, want, n.describe(&e).level, u)
	}
}
