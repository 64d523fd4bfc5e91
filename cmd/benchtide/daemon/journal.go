package daemon

import (
	"context"
	"fmt"
	"io"
	"log/slog"

	"benchtide/controller/live"
	"benchtide/controller/loop"
	"benchtide/controller/texts"
)

// journal tells each event of the site as it happens: on a terminal one line
// to read, otherwise as structured logs. The times are those of the bench.
type journal struct{ write func(live.Entry) }

var _ loop.Sink = (*journal)(nil)

func (j *journal) Turn(t *loop.Turn) {
	for i := range t.Events {
		e := live.Describe(t.Names, &t.Events[i])
		e.At = t.Events[i].At.Wall.In(t.Names.Zone)
		j.write(e)
	}
}

// readable writes entries for a person at a terminal.
func readable(w io.Writer) func(live.Entry) {
	return func(e live.Entry) {
		mark := " "
		switch {
		case e.Level >= slog.LevelError:
			mark = "‼"
		case e.Level >= slog.LevelWarn:
			mark = "!"
		}
		fmt.Fprintf(w, "%s %s %s %s\n", e.At.Format("Mon 2 Jan 15:04:05"), mark, texts.Pad(e.Place, 10), e.Text)
	}
}

// structured writes entries as records of structured logs.
func structured(h slog.Handler) func(live.Entry) {
	return func(e live.Entry) {
		r := slog.NewRecord(e.At, e.Level, e.Text, 0)
		r.AddAttrs(slog.String("event", e.Kind))
		if e.Bench != "" {
			r.AddAttrs(slog.String("bench", e.Bench))
		}
		r.AddAttrs(e.Attrs...)
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
