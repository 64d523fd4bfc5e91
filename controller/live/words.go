package live

import (
	"fmt"
	"log/slog"
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
)

// Entry is one event in words and as data.
type Entry struct {
	At    time.Time
	Level slog.Level
	Bench string // empty when the event is not about one
	Place string // what people call that bench
	Kind  string
	Text  string
	Attrs []slog.Attr
}

// Describe puts an event into words, and its figures beside them.
func Describe(n *controller.Names, e *controller.Event) Entry {
	d := Entry{Kind: e.Kind.String()}
	if e.Bench >= 0 {
		d.Bench = n.Benches[e.Bench]
		d.Place = n.Titles.Bench(d.Bench)
	}
	switch e.Kind {
	case controller.FloodIntended, controller.PumpStarted, controller.FullMade, controller.PumpStopped,
		controller.FloodRetry, controller.FloodEnded, controller.FloodRefused:
		d.flood(n, e)
	case controller.GuardActed:
		d.guard(n, e)
	case controller.MessageSent:
		d.Level = urgencies[e.Message.Urgency]
		d.Text = fmt.Sprintf("message (%s): %s", e.Message.Urgency, e.Message.Text)
		d.Attrs = []slog.Attr{slog.String("urgency", string(e.Message.Urgency)), slog.String("cause", e.Message.Cause)}
	case controller.OutputChanged:
		d.Text = n.Outputs[e.Output] + " " + onOff(e.On)
		d.Attrs = []slog.Attr{slog.String("output", n.Outputs[e.Output]), slog.Bool("on", e.On)}
	case controller.ReservoirWeighed:
		w := &e.Weighing
		d.Text = fmt.Sprintf("%s held %s at the start of this flood, give or take %s",
			n.Titles.Reservoir(n.Reservoirs[w.Reservoir]), n.Units.Weighed(quantity.Litres(w.Litres)), n.Units.Least(quantity.Litres(w.Give)))
		d.Attrs = []slog.Attr{slog.String("reservoir", n.Reservoirs[w.Reservoir]), figure("litres", float64(w.Litres)), figure("give", float64(w.Give))}
	case controller.WaterBooked:
		d.Kind, d.Text = "diary", n.Titles.Reservoir(n.Reservoirs[e.Booking.Reservoir])+": "+bookedText(&e.Booking, n.Units)+": "+e.Text
		d.Attrs = []slog.Attr{slog.String("reservoir", n.Reservoirs[e.Booking.Reservoir]), figure("litres", float64(e.Booking.Litres))}
	default:
		d.Text = d.Kind
		if e.Text != "" {
			d.Text += ": " + e.Text
		}
	}
	return d
}

func bookedText(b *controller.Booking, u quantity.Units) string {
	switch {
	case b.Withdrawn:
		return "a top-up that was booked is taken back"
	case b.Litres < 0:
		return u.Weighed(quantity.Litres(-b.Litres)) + " booked as taken out"
	}
	return u.Weighed(quantity.Litres(b.Litres)) + " booked as a top-up"
}

var urgencies = map[controller.Urgency]slog.Level{
	controller.Urgent: slog.LevelError, controller.Today: slog.LevelWarn, controller.ThisWeek: slog.LevelInfo,
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}
