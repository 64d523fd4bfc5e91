package drift

import (
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// Watch follows the floods of a site's benches, as a sink of its turns, and
// tells of findings. It is for the goroutine of the loop alone.
type Watch struct {
	zone    *time.Location
	benches []watched
	tell    func(Finding, controller.Message)
}

type watched struct {
	Bench
	state   State
	tenants uint64
	wetted  time.Time // when the last flood that counted began
}

var _ loop.Sink = (*Watch)(nil)

// NewWatch watches benches by the wall clock of zone.
func NewWatch(benches []Bench, zone *time.Location, tell func(Finding, controller.Message)) *Watch {
	w := &Watch{zone: zone, tell: tell}
	for _, b := range benches {
		w.benches = append(w.benches, watched{Bench: b})
	}
	return w
}

// Turn takes the floods that ended, and begins anew where a batch came or went.
func (w *Watch) Turn(t *loop.Turn) {
	for i := range t.Events {
		switch e := &t.Events[i]; e.Kind {
		case controller.FloodEnded:
			if f := w.take(&e.Flood); f != nil {
				w.tell(*f, message(t.Names, e.Flood.Bench, f))
			}
		case controller.BatchClosed:
			w.Rebaseline(e.Bench)
		}
	}
}

// Mark is a time at which a bench's baseline began anew.
type Mark struct {
	At    time.Time
	Bench int
}

// Replay takes floods and marks from before the program started, both oldest
// first, and tells nothing of them: a restart neither learns anew nor tells
// twice.
func (w *Watch) Replay(floods []controller.Flood, marks []Mark) {
	for i := range floods {
		for len(marks) > 0 && !marks[0].At.After(floods[i].Started) {
			w.Rebaseline(marks[0].Bench)
			marks = marks[1:]
		}
		w.take(&floods[i])
	}
	for _, m := range marks {
		w.Rebaseline(m.Bench)
	}
}

// Rebaseline begins anew on a bench, after cleaning or what else changed it.
func (w *Watch) Rebaseline(bench int) { w.benches[bench].state = State{} }

// take follows one flood. A retry's times are left out: the pots were wet and
// the table perhaps not bare.
func (w *Watch) take(f *controller.Flood) *Finding {
	if f.Started.IsZero() || f.Bench < 0 || f.Bench >= len(w.benches) {
		return nil
	}
	b := &w.benches[f.Bench]
	at := f.Started.In(w.zone)
	if now := b.tenantsAt(at); now != b.tenants {
		b.state, b.tenants = State{}, now
	}
	seen := Flood{At: at, Fill: f.Fill, Fall: f.Fall, Hold: f.Hold}
	if b.Empty {
		seen.Drain = max(0, f.Ended.Sub(f.Started)-f.Run)
	}
	if !b.wetted.IsZero() {
		seen.Gap = max(0, at.Sub(b.wetted))
	}
	if f.Counted {
		b.wetted = at
	}
	if f.Fill == 0 || f.Attempt > 0 {
		return nil
	}
	var found *Finding
	b.state, found = Next(b.state, b.Bench, seen)
	return found
}

// message has the words for people. What cannot wait is for today.
func message(n *controller.Names, bench int, f *Finding) controller.Message {
	m := controller.Message{Urgency: controller.ThisWeek, Bench: bench, Cause: "drift", Text: n.Titles.Bench(n.Benches[bench]) + ": " + f.String()}
	if f.Pressing {
		m.Urgency = controller.Today
	}
	return m
}
