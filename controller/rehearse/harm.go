package rehearse

import (
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// harm watches what invariant 9 promises of a single fault: no pump runs dry and
// no flood is called proven while its own water lies on the floor, unless the
// row of the fault allows it. Of two faults at once nothing is promised.
type harm struct {
	check  *checker
	one    *Case
	bound  Bound
	begins time.Duration   // the fault, since the start of the world
	drawn  []int           // by output: the reservoir that its pump draws from; -1 for none
	dry    []time.Duration // by output, at the start of its present run
	since  []time.Duration // by output: that start, since the start of the world
	wet    []spilt         // by bench
}

// spilt is what a bench's floods left on the floor.
type spilt struct {
	flood   int64
	before  float64 // L, at the start of that flood
	unheard int     // floods called proven with water of theirs on the floor, nobody told
	told    bool    // since the fault began
}

// puddle is what a flood may leave on the floor and be called proven: twice what
// wets a floor sensor.
const puddle = 0.2 // L

// dryFor is how long a pump may run dry in one run where nothing allows it.
const dryFor = time.Second

// newHarm returns the watcher of a case whose fault begins so long after the world.
func newHarm(check *checker, one *Case, begins time.Duration) *harm {
	limits := &check.limits
	h := &harm{
		check: check, one: one, begins: begins, bound: BoundOf(one), dry: make([]time.Duration, len(limits.Outputs)),
		since: make([]time.Duration, len(limits.Outputs)),
		drawn: make([]int, len(limits.Outputs)), wet: make([]spilt, len(limits.Benches)),
	}
	for i := range h.drawn {
		h.drawn[i] = -1
	}
	for i := range limits.Benches {
		h.drawn[limits.Benches[i].Pump] = limits.Benches[i].Reservoir
	}
	for _, s := range limits.Stirrers {
		h.drawn[s.Output] = s.Reservoir
	}
	return h
}

// Turn looks at one turn.
func (h *harm) Turn(t *loop.Turn) {
	if h == nil || h.check.forgot {
		return
	}
	for i := range t.Events {
		h.event(&t.Events[i])
	}
	for i, k := range h.drawn {
		if k >= 0 {
			h.checkDry(i, k)
		}
	}
}

// checkDry looks at the pump of an output that draws from a reservoir.
func (h *harm) checkDry(output, reservoir int) {
	o := &h.check.board.Outputs[output]
	ran := o.Dry - h.dry[output]
	cameInIt := h.bound.Astray && h.since[output] < h.begins
	if !o.Circuit {
		h.dry[output], h.since[output] = o.Dry, h.check.board.Elapsed()
	}
	if ran <= dryFor || h.bound.Dry || cameInIt || !h.check.limits.Reservoirs[reservoir].Low {
		return
	}
	h.check.breaks(9, -1, "the pump of %s ran dry, though %s has a low switch and nothing is wrong with it",
		h.check.limits.Outputs[output].Name, h.check.limits.Reservoirs[reservoir].Name)
}

func (h *harm) event(e *controller.Event) {
	switch e.Kind {
	case controller.MessageSent:
		if h.check.board.Elapsed() >= h.begins {
			h.told(e.Message.Bench)
		}
	case controller.PumpStarted:
		if w := &h.wet[e.Bench]; w.flood != e.Flood.ID {
			w.flood, w.before = e.Flood.ID, h.check.board.Benches[e.Bench].Spilled
		}
	case controller.FloodEnded:
		h.ended(e)
	}
}

// told notes that somebody was told of a bench; below 0 of the site.
func (h *harm) told(bench int) {
	for b := range h.wet {
		if bench < 0 || bench == b {
			h.wet[b].told = true
		}
	}
}

// ended looks at a flood that has its outcome.
func (h *harm) ended(e *controller.Event) {
	w := &h.wet[e.Bench]
	lost := h.check.board.Benches[e.Bench].Spilled - w.before
	if e.Flood.Outcome != controller.Proven || e.Flood.ID != w.flood || lost <= puddle {
		return
	}
	switch {
	case h.bound.Unheard == 0 || h.one.bench != e.Bench:
		h.check.breaks(9, e.Bench, "flood %d was called proven with %.1f L of it on the floor", e.Flood.ID, lost)
	case w.told:
	case w.unheard == h.bound.Unheard:
		h.check.breaks(9, e.Bench, "flood %d was called proven with %.1f L of it on the floor, and nobody was told", e.Flood.ID, lost)
	default:
		w.unheard++
	}
}
