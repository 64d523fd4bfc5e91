package live

import (
	"cmp"
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
func (d *Entry) flood(n *controller.Names, e *controller.Event) {
	f := &e.Flood
	d.Attrs = []slog.Attr{slog.Int64("flood", f.ID)}
	if f.Attempt > 0 {
		d.Attrs = append(d.Attrs, slog.Int("attempt", f.Attempt))
	}
	switch e.Kind {
	case controller.FloodIntended:
		d.Text = fmt.Sprintf("flood due at %s (%s): hold %s, strength %.0f %%",
			f.Due.In(n.Zone).Format("15:04"), f.Cause, quantity.Duration(f.Hold), 100*f.Strength)
		d.Attrs = append(d.Attrs, slog.Time("due", f.Due.In(n.Zone)), slog.String("cause", string(f.Cause)),
			figure("hold_s", f.Hold.Seconds()), slog.Float64("strength", f.Strength))
	case controller.PumpStarted:
		d.Text = "pump started"
		if f.Unrecorded {
			d.Text, d.Level = "pump started, not recorded: storage did not answer", slog.LevelWarn
		}
	case controller.FullMade:
		d.Text = "FULL made after " + Short(f.Fill)
		d.Attrs = append(d.Attrs, figure("fill_s", f.Fill.Seconds()))
	case controller.PumpStopped:
		d.Text = "pump stopped after " + Short(f.Run)
	case controller.FloodRetry:
		d.Text, d.Level = "the water came home: the flood is tried once more", slog.LevelWarn
	case controller.FloodRefused:
		d.Level = slog.LevelWarn
		d.Text = "flood refused for now: " + controller.Because(string(e.Refusal.Interlock), e.Refusal.Detail)
		d.Attrs = append(d.Attrs, slog.String("interlock", string(e.Refusal.Interlock)), slog.Bool("latched", e.Refusal.Latched))
	case controller.FloodEnded:
		d.ended(f, n.Units)
	}
}

func (d *Entry) ended(f *controller.Flood, u quantity.Units) {
	d.Text = "flood " + string(f.Outcome)
	if f.Outcome != controller.Proven {
		d.Level = slog.LevelWarn
	}
	d.Attrs = append(d.Attrs, slog.String("outcome", string(f.Outcome)))
	if f.Reason != "" {
		d.Text += " (" + f.Reason + ")"
		d.Attrs = append(d.Attrs, slog.String("reason", f.Reason))
	}
	var parts []string
	took := func(key, text string, t time.Duration) {
		if t > 0 {
			parts = append(parts, text+" "+Short(t))
			d.Attrs = append(d.Attrs, figure(key, t.Seconds()))
		}
	}
	took("fill_s", "filled in", f.Fill)
	took("stood_s", "stood", f.Stood)
	took("fall_s", "fell in", f.Fall)
	if f.Litres > 0 {
		words, all := "pumped "+u.Weighed(quantity.Litres(f.Pumped())), f.Pumped()
		if all > f.Litres {
			words += ", " + u.Weighed(quantity.Litres(f.Litres)) + " of it until FULL was made"
		}
		parts = append(parts, words)
		d.Attrs = append(d.Attrs, figure("litres", float64(f.Litres)), figure("pumped", float64(all)))
	}
	if len(parts) > 0 {
		d.Text += ": " + strings.Join(parts, ", ")
	}
}

// guard describes an event of the guard.
func (d *Entry) guard(n *controller.Names, e *controller.Event) {
	g := &e.Guard
	d.Kind = cmp.Or(guardKinds[g.Kind], controller.GuardAct(g.Kind))
	switch g.Kind {
	case safety.SwitchChanged, safety.ProofTested:
		name := switchName(n, g)
		d.Text = name + " " + g.Level.String()
		if g.Kind == safety.ProofTested {
			d.Text = "proof test: " + d.Text
		}
		d.Attrs = []slog.Attr{slog.String("switch", name), slog.String("level", g.Level.String())}
		return
	case safety.Dropped:
		d.Text = fmt.Sprintf("dropped %s, which left the file: %s", g.Left, g.Detail)
		return
	case safety.Tripped:
		d.Level = slog.LevelWarn
	case safety.LatchedEvent, safety.WeldProven:
		d.Level = slog.LevelError
	}
	d.Text = d.Kind + ": " + controller.Because(string(g.Interlock), g.Detail)
	if g.Interlock != "" {
		d.Attrs = []slog.Attr{slog.String("interlock", string(g.Interlock))}
	}
}

// guardKinds are what people call the guard's events, where that is not the key.
var guardKinds = map[safety.EventKind]string{
	safety.Tripped: "trip", safety.ProofTested: "proof test", safety.WeldProven: "weld proven", safety.RetryAllowed: "retry allowed",
}

// switchName names a switch as the file and the metrics do.
func switchName(n *controller.Names, g *safety.Event) string {
	switch {
	case g.Switch == "low":
		return n.Reservoirs[g.Reservoir] + ".low"
	case g.Switch == "level":
		return n.Reservoirs[g.Reservoir] + ".level"
	case g.Bench >= 0:
		return n.Benches[g.Bench] + "." + g.Switch
	}
	return g.Switch
}

// figure is a number to a tenth, which is more than a switch can tell.
func figure(key string, v float64) slog.Attr { return slog.Float64(key, math.Round(v*10)/10) }

// Short prints a duration to the second, as people at a bench say it.
func Short(d time.Duration) string { return quantity.Duration(d.Round(time.Second)) }
