package rehearse

import (
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// logbook notes what happened in a rehearsal, at true times.
type logbook struct {
	site     *config.Site
	zone     *time.Location
	benches  []string
	start    time.Time
	elapsed  func() time.Duration
	floods   []controller.Flood // in order of their first event
	byID     map[int64]int
	trips    []Trip
	messages []Message
	slow     []Slow
	answers  []Answer
	watered  [][]time.Duration // by bench: when a flood that counted stopped pumping
}

func newLogbook(site *config.Site, calendar *schedule.Calendar, start time.Time, elapsed func() time.Duration) *logbook {
	return &logbook{
		site: site, zone: calendar.Zone(), benches: site.BenchNames(), start: start, elapsed: elapsed,
		byID: map[int64]int{}, watered: make([][]time.Duration, len(site.Benches)),
	}
}

// now is the true time as a person on site reads it.
func (d *logbook) now() string { return controller.Stamp(d.start.Add(d.elapsed()), d.zone) }

// Turn notes the events of a turn.
func (d *logbook) Turn(t *loop.Turn) {
	for i := range t.Events {
		d.event(&t.Events[i])
	}
}

func (d *logbook) event(e *controller.Event) {
	switch e.Kind {
	case controller.GuardActed:
		d.guard(&e.Guard)
	case controller.FloodRefused:
		d.refused(e)
	case controller.MessageSent:
		d.message(e.Message)
	case controller.PumpStopped:
		if e.Flood.Counted {
			d.watered[e.Bench] = append(d.watered[e.Bench], d.elapsed())
		}
	}
	if e.Flood.ID != 0 && e.Kind != controller.FloodRefused {
		d.flood(e)
	}
}

// flood keeps the newest form of each flood. An identity that comes up again
// after its end, or with another due time, is another flood: storage had
// forgotten the first.
func (d *logbook) flood(e *controller.Event) {
	i, known := d.byID[e.Flood.ID]
	if known && d.floods[i].Open() && d.floods[i].Due.Equal(e.Flood.Due) {
		d.floods[i] = e.Flood
		return
	}
	d.byID[e.Flood.ID] = len(d.floods)
	d.floods = append(d.floods, e.Flood)
}

// guard notes that an interlock acted. One that latches later is the same
// entry.
func (d *logbook) guard(e *safety.Event) {
	switch e.Kind {
	case safety.Tripped, safety.WeldProven:
		d.trip(e.Bench, e.Interlock, e.Latched, e.Detail)
	case safety.LatchedEvent:
		for i := range slices.Backward(d.trips) {
			if t := &d.trips[i]; t.Bench == d.name(e.Bench) && t.Interlock == e.Interlock {
				t.Latched = true
				return
			}
		}
		d.trip(e.Bench, e.Interlock, true, e.Detail)
	}
}

// refused notes an interlock that kept a flood from starting. A pause or a
// person at work is none.
func (d *logbook) refused(e *controller.Event) {
	if slices.Contains(safety.Interlocks, e.Refusal.Interlock) {
		d.trip(e.Bench, e.Refusal.Interlock, e.Refusal.Latched, "a flood may not start: "+e.Refusal.Detail)
	}
}

func (d *logbook) trip(bench int, why safety.Interlock, latched bool, detail string) {
	d.trips = append(d.trips, Trip{d.now(), d.name(bench), why, latched, detail})
}

func (d *logbook) name(bench int) string {
	if bench < 0 {
		return ""
	}
	return d.benches[bench]
}

func (d *logbook) message(m controller.Message) {
	d.messages = append(d.messages, Message{d.now(), m.Urgency, m.Text})
}

// act notes what a person did and what the answer was.
func (d *logbook) act(a *Act, err error) {
	answer := "done"
	if err != nil {
		answer = err.Error()
	}
	do := a.Do
	if do == "hands-in" && !a.On {
		do = "end hands-in"
	}
	d.answers = append(d.answers, Answer{d.now(), do, a.Where, answer})
}

// longestGap is the longest that batch i was without a flood that counted
// while it stood on its bench; false when it never did.
func (d *logbook) longestGap(i int, end time.Duration) (time.Duration, bool) {
	b := &d.site.Batches[i]
	from := max(0, b.Transplanted.At(0).In(d.zone).Sub(d.start))
	to := end
	if b.Closed != 0 {
		to = min(to, b.Closed.AddDays(1).At(0).In(d.zone).Sub(d.start))
	}
	if from >= to {
		return 0, false
	}
	var gap time.Duration
	last := from
	for _, at := range d.watered[b.Bench] {
		if at >= from && at < to {
			gap, last = max(gap, at-last), at
		}
	}
	return max(gap, to-last), true
}
