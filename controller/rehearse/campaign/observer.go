package campaign

import (
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// observer notes of each turn of a month what the judgement needs, at true times
// since the month began.
type observer struct {
	tanks    []int // by bench: its reservoir
	messages []note
	trips    []trip
	starts   []note
	runs     []start // the same, each with its cause
	low      []refusal
	held     []poured          // by reservoir
	ends     []end             // of floods that did not count
	watered  [][]time.Duration // by bench: when a flood that counted stopped pumping
	spills   []spill
	refusals []safety.Interlock

	dry        []time.Duration // by output: at the start of its present run
	longestDry time.Duration   // of any pump in one run
}

// note is that something happened on a bench; -1 for the site.
type note struct {
	at    time.Duration
	bench int
	text  string
}

type trip struct {
	note
	why     safety.Interlock
	latched bool
}

// poured is what a reservoir holds, and the least that it held of late: what is poured
// in this very moment its switch has not told of.
type poured struct {
	now, told float64
	from      time.Duration // that told is so
}

// tellsAfter is how long a switch takes to be believed.
const tellsAfter = 10 * time.Second

// sees takes in what the reservoir holds at a time.
func (p *poured) sees(at time.Duration, litres float64) {
	if litres < p.told || at > p.from+tellsAfter {
		p.told, p.from = min(litres, p.now), at
	}
	p.now = litres
}

type end struct {
	at    time.Duration
	flood controller.Flood
}

// spill is how much had reached the floor by a time.
type spill struct {
	at     time.Duration
	litres float64
}

// noticeable is how much more has to reach the floor for another entry.
const noticeable = 0.1 // L

func newObserver(site *config.Site) *observer {
	w := &observer{watered: make([][]time.Duration, len(site.Benches)), held: make([]poured, len(site.Reservoirs)), dry: make([]time.Duration, len(site.Outputs))}
	for i := range site.Benches {
		w.tanks = append(w.tanks, site.Benches[i].Reservoir)
	}
	return w
}

// each is told of every turn.
func (w *observer) each(m rehearse.Observation) {
	if n := len(w.spills); n == 0 && m.Totals.Spilled > noticeable || n > 0 && m.Totals.Spilled > w.spills[n-1].litres+noticeable {
		w.spills = append(w.spills, spill{m.At, m.Totals.Spilled})
	}
	for i := range w.dry {
		ran, circuit := m.Dry(i)
		w.longestDry = max(w.longestDry, ran-w.dry[i])
		if !circuit {
			w.dry[i] = ran
		}
	}
	for k := range w.held {
		w.held[k].sees(m.At, m.Litres(k))
	}
	for i := range m.Turn.Events {
		e := &m.Turn.Events[i]
		w.event(m.At, e)
		if lacked(e) {
			k := w.tanks[e.Bench]
			w.low = append(w.low, refusal{note{at: m.At, bench: e.Bench}, !m.Wet(k), w.held[k].told})
		}
	}
}

// lacked reports whether a flood is refused for want of water, or given up for it:
// by then the flood of another bench that it waited for at first is long over.
func lacked(e *controller.Event) bool {
	switch e.Kind {
	case controller.FloodRefused:
		return e.Refusal.Interlock == safety.ReservoirLow
	case controller.FloodEnded:
		return e.Flood.Outcome == controller.Refused && strings.HasPrefix(e.Flood.Reason, string(safety.ReservoirLow))
	}
	return false
}

func (w *observer) event(at time.Duration, e *controller.Event) {
	switch e.Kind {
	case controller.MessageSent:
		w.messages = append(w.messages, note{at, e.Message.Bench, e.Message.Text})
	case controller.GuardActed:
		w.guard(at, &e.Guard)
	case controller.FloodRefused:
		if slices.Contains(safety.Interlocks, e.Refusal.Interlock) {
			w.refusals = append(w.refusals, e.Refusal.Interlock)
		}
	case controller.PumpStarted:
		w.starts = append(w.starts, note{at: at, bench: e.Bench})
		w.runs = append(w.runs, start{note{at: at, bench: e.Bench}, e.Flood.Cause, e.Flood.Attempt})
	case controller.PumpStopped:
		if e.Flood.Counted {
			w.watered[e.Bench] = append(w.watered[e.Bench], at)
		}
	case controller.FloodEnded:
		if !e.Flood.Counted {
			w.ends = append(w.ends, end{at, e.Flood})
		}
	}
}

func (w *observer) guard(at time.Duration, e *safety.Event) {
	switch e.Kind {
	case safety.Tripped, safety.WeldProven:
		w.trips = append(w.trips, trip{note{at, e.Bench, e.Detail}, e.Interlock, e.Latched})
	case safety.LatchedEvent:
		for i := range slices.Backward(w.trips) {
			if t := &w.trips[i]; t.bench == e.Bench && t.why == e.Interlock {
				t.latched = true
				return
			}
		}
		w.trips = append(w.trips, trip{note{at, e.Bench, e.Detail}, e.Interlock, true})
	}
}

// toldBy reports whether a message about a bench, or about the site, came
// between two times.
func (w *observer) toldBy(bench int, from, to time.Duration) bool {
	for _, m := range w.messages {
		if m.at >= from && m.at <= to && (bench < 0 || m.bench == bench || m.bench < 0) {
			return true
		}
	}
	return false
}

// firstMessage is the first message after a time; false when there is none.
func (w *observer) firstMessage(bench int, from time.Duration) (time.Duration, bool) {
	for _, m := range w.messages {
		if m.at >= from && (bench < 0 || m.bench == bench || m.bench < 0) {
			return m.at, true
		}
	}
	return 0, false
}
