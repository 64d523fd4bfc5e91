package main

import (
	"fmt"
	"log/slog"
	"math"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/safety"
)

// flood describes an event of one flood.
func (d *entry) flood(n *controller.Names, e *controller.Event) {
	f := &e.Flood
	d.attrs = []slog.Attr{slog.Int64("flood", f.ID)}
	if f.Attempt > 0 {
		d.attrs = append(d.attrs, slog.Int("attempt", f.Attempt))
	}
	switch e.Kind {
	case controller.FloodIntended:
		d.kind = "flood intended"
		d.text = fmt.Sprintf("flood due at %s (%s): hold %s, strength %.0f %%",
			f.Due.In(n.Zone).Format("15:04"), f.Cause, quantity.Duration(f.Hold), 100*f.Strength)
		d.attrs = append(d.attrs, slog.Time("due", f.Due.In(n.Zone)), slog.String("cause", string(f.Cause)),
			figure("hold_s", f.Hold.Seconds()), slog.Float64("strength", f.Strength))
	case controller.PumpStarted:
		d.kind, d.text = "pump started", "pump started"
		if f.Unrecorded {
			d.text, d.level = "pump started, not recorded: storage did not answer", slog.LevelWarn
		}
	case controller.FullMade:
		d.kind, d.text = "full made", "FULL made after "+short(f.Fill)
		d.attrs = append(d.attrs, figure("fill_s", f.Fill.Seconds()))
	case controller.PumpStopped:
		d.kind, d.text = "pump stopped", "pump stopped after "+short(f.Run)
	case controller.FloodRetry:
		d.kind, d.text, d.level = "flood retry", "the water came home: the flood is tried once more", slog.LevelWarn
	case controller.FloodRefused:
		d.kind, d.level = "flood refused", slog.LevelWarn
		d.text = "flood refused for now: " + because(string(e.Refusal.Interlock), e.Refusal.Detail)
		d.attrs = append(d.attrs, slog.String("interlock", string(e.Refusal.Interlock)), slog.Bool("latched", e.Refusal.Latched))
	case controller.FloodEnded:
		d.ended(f)
	}
}

func (d *entry) ended(f *controller.Flood) {
	d.kind, d.text = "flood ended", "flood "+string(f.Outcome)
	if f.Outcome != controller.Proven {
		d.level = slog.LevelWarn
	}
	d.attrs = append(d.attrs, slog.String("outcome", string(f.Outcome)))
	if f.Reason != "" {
		d.text += " (" + f.Reason + ")"
		d.attrs = append(d.attrs, slog.String("reason", f.Reason))
	}
	var parts []string
	took := func(key, text string, t time.Duration) {
		if t > 0 {
			parts = append(parts, text+" "+short(t))
			d.attrs = append(d.attrs, figure(key, t.Seconds()))
		}
	}
	took("fill_s", "filled in", f.Fill)
	took("stood_s", "stood", f.Stood)
	took("fall_s", "fell in", f.Fall)
	if f.Litres > 0 {
		parts = append(parts, fmt.Sprintf("lifted %.0f L", f.Litres))
		d.attrs = append(d.attrs, figure("litres", float64(f.Litres)))
	}
	if len(parts) > 0 {
		d.text += ": " + strings.Join(parts, ", ")
	}
}

// guard describes an event of the guard.
func (d *entry) guard(n *controller.Names, e *controller.Event) {
	g := &e.Guard
	d.kind = guardKinds[g.Kind]
	switch g.Kind {
	case safety.SwitchChanged, safety.ProofTested:
		name := switchName(n, g)
		d.text = name + " " + g.Level.String()
		if g.Kind == safety.ProofTested {
			d.text = "proof test: " + d.text
		}
		d.attrs = []slog.Attr{slog.String("switch", name), slog.String("level", g.Level.String())}
		return
	case safety.Dropped:
		d.text = fmt.Sprintf("dropped %s, which left the file: %s", g.Left, g.Detail)
		return
	case safety.Tripped:
		d.level = slog.LevelWarn
	case safety.LatchedEvent, safety.WeldProven:
		d.level = slog.LevelError
	}
	d.text = d.kind + ": " + because(string(g.Interlock), g.Detail)
	if g.Interlock != "" {
		d.attrs = []slog.Attr{slog.String("interlock", string(g.Interlock))}
	}
}

var guardKinds = map[safety.EventKind]string{
	safety.Tripped: "trip", safety.LatchedEvent: "latched", safety.ResetEvent: "reset", safety.SwitchChanged: "switch",
	safety.ProofTested: "proof test", safety.WeldProven: "weld proven", safety.RetryAllowed: "retry allowed",
	safety.Dropped: "dropped",
}

// switchName names a switch as the file and the metrics do.
func switchName(n *controller.Names, g *safety.Event) string {
	switch {
	case g.Switch == "low":
		return n.Reservoirs[g.Reservoir] + ".low"
	case g.Bench >= 0:
		return n.Benches[g.Bench] + "." + g.Switch
	}
	return g.Switch
}

// because joins what there is of a name and its detail.
func because(name, detail string) string {
	switch {
	case name == "":
		return detail
	case detail == "":
		return name
	}
	return name + ": " + detail
}

// figure is a number to a tenth, which is more than a switch can tell.
func figure(key string, v float64) slog.Attr { return slog.Float64(key, math.Round(v*10)/10) }

// short prints a duration to the second, as people at a bench say it.
func short(d time.Duration) string { return quantity.Duration(d.Round(time.Second)) }
