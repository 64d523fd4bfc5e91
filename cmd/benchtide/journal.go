package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// journal tells each event of the site as it happens: on a terminal one line
// to read, otherwise as structured logs. The times are those of the bench.
type journal struct{ write func(entry) }

// entry is one event in words and as data.
type entry struct {
	at    time.Time
	level slog.Level
	bench string // empty when the event is not about one
	kind  string
	text  string
	attrs []slog.Attr
}

var _ loop.Sink = (*journal)(nil)

func (j *journal) Turn(t *loop.Turn) {
	for i := range t.Events {
		e := describe(t.Names, &t.Events[i])
		e.at = t.Events[i].At.Wall.In(t.Names.Zone)
		j.write(e)
	}
}

// readable writes entries for a person at a terminal.
func readable(w io.Writer) func(entry) {
	return func(e entry) {
		mark := " "
		switch {
		case e.level >= slog.LevelError:
			mark = "‼"
		case e.level >= slog.LevelWarn:
			mark = "!"
		}
		fmt.Fprintf(w, "%s %s %-10s %s\n", e.at.Format("Mon 2 Jan 15:04:05"), mark, e.bench, e.text)
	}
}

// structured writes entries as records of structured logs.
func structured(h slog.Handler) func(entry) {
	return func(e entry) {
		r := slog.NewRecord(e.at, e.level, e.text, 0)
		r.AddAttrs(slog.String("event", e.kind))
		if e.bench != "" {
			r.AddAttrs(slog.String("bench", e.bench))
		}
		r.AddAttrs(e.attrs...)
		_ = h.Handle(context.Background(), r) // into lines, which takes everything
	}
}

// newJournal picks the form that suits the reader of out.
func newJournal(out io.Writer, terminal, asJSON bool) *journal {
	switch {
	case asJSON:
		return &journal{structured(slog.NewJSONHandler(out, nil))}
	case terminal:
		return &journal{readable(out)}
	}
	return &journal{structured(slog.NewTextHandler(out, nil))}
}

// describe puts an event into words, and its figures beside them.
func describe(n *controller.Names, e *controller.Event) entry {
	d := entry{}
	if e.Bench >= 0 {
		d.bench = n.Benches[e.Bench]
	}
	switch e.Kind {
	case controller.FloodIntended, controller.PumpStarted, controller.FullMade, controller.PumpStopped,
		controller.FloodRetry, controller.FloodEnded, controller.FloodRefused:
		d.flood(n, e)
	case controller.GuardActed:
		d.guard(n, e)
	case controller.MessageSent:
		d.kind, d.level = "message", urgencies[e.Message.Urgency]
		d.text = fmt.Sprintf("message (%s): %s", e.Message.Urgency, e.Message.Text)
		d.attrs = []slog.Attr{slog.String("urgency", string(e.Message.Urgency)), slog.String("cause", e.Message.Cause)}
	case controller.OutputChanged:
		d.kind, d.text = "output", n.Outputs[e.Output]+" "+onOff(e.On)
		d.attrs = []slog.Attr{slog.String("output", n.Outputs[e.Output]), slog.Bool("on", e.On)}
	default:
		d.kind = plainKinds[e.Kind]
		d.text = d.kind
		if e.Text != "" {
			d.text += ": " + e.Text
		}
	}
	return d
}

var urgencies = map[controller.Urgency]slog.Level{
	controller.Urgent: slog.LevelError, controller.Today: slog.LevelWarn, controller.ThisWeek: slog.LevelInfo,
}

var plainKinds = map[controller.EventKind]string{
	controller.PauseBegan: "pause began", controller.PauseEnded: "pause ended",
	controller.HandsInBegan: "hands-in began", controller.HandsInEnded: "hands-in ended",
	controller.SanitisingBegan: "sanitising began", controller.SanitisingEnded: "sanitising ended",
	controller.StageBegan: "stage began", controller.BatchClosed: "batch closed",
	controller.PlanChanged: "plan changed", controller.ClockStepped: "clock stepped",
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}
