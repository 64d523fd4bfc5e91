package rehearse

import (
	"benchtide/controller/loop"
	"benchtide/safety"
)

// welds watches what a proven weld does: the enable relay in series with the welded
// pump stays open for everything behind it until that bench is reset, every bench
// behind it is latched, and none behind another.
type welds struct {
	check *checker
	by    []int // by output: the bench whose weld was proven behind this enable relay; -1 for none
}

func newWelds(check *checker) *welds {
	w := &welds{check: check, by: make([]int, len(check.limits.Outputs))}
	for i := range w.by {
		w.by[i] = -1
	}
	return w
}

func (w *welds) enable(bench int) int {
	return w.check.limits.Outputs[w.check.limits.Benches[bench].Pump].Enable
}

// event notes a weld and its reset.
func (w *welds) event(e *safety.Event) {
	if e.Bench < 0 || w.enable(e.Bench) < 0 {
		return
	}
	switch enable := w.enable(e.Bench); {
	case e.Kind == safety.WeldProven:
		w.by[enable] = e.Bench
	case e.Kind == safety.ResetEvent && w.by[enable] == e.Bench:
		w.by[enable] = -1
	}
}

// Turn looks at one turn, once all of its events are known.
func (w *welds) Turn(t *loop.Turn) {
	if w.check.forgot {
		return
	}
	for enable, welded := range w.by {
		if welded < 0 {
			continue
		}
		name := w.check.limits.Benches[welded].Name
		if t.Command.On(enable) {
			w.check.breaks(5, welded, "the enable relay %s was closed after the pump of %s was proven welded", w.check.limits.Outputs[enable].Name, name)
		}
		for b := range w.check.benches {
			if w.enable(b) == enable && !w.check.benches[b].latched {
				w.check.breaks(5, b, "it was not latched, though the pump of %s behind the same enable relay was proven welded", name)
			}
		}
	}
	for i := range t.Events {
		w.others(&t.Events[i].Guard, t)
	}
}

// others finds a bench that a weld behind another enable relay latched.
func (w *welds) others(e *safety.Event, t *loop.Turn) {
	if e.Kind != safety.WeldProven || e.Bench < 0 {
		return
	}
	for i := range t.Events {
		o := &t.Events[i].Guard
		if o.Kind == safety.LatchedEvent && o.Detail == e.Detail && w.enable(o.Bench) != w.enable(e.Bench) {
			w.check.breaks(5, o.Bench, "it was latched for a weld behind another enable relay, of %s", w.check.limits.Benches[e.Bench].Name)
		}
	}
}
