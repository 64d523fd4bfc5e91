package sim

import (
	"fmt"
	"math"
	"slices"
	"time"

	"benchtide/safety"
)

// Fault is one thing that goes wrong, as data. The package comment says what
// each does.
type Fault struct {
	What  string        // its name, see Faults
	Where string        // a bench, an output, a switch as "bench.full", a reservoir, or empty
	At    time.Duration // since the start of the world; earlier than now means now
	For   time.Duration // 0: until cleared, or once
	Over  time.Duration // it grows evenly from nothing at At to Size; 0: all of it at once
	Size  float64       // 0 means 1, all of it
}

const (
	downPower = "power cut"
	downCrash = "the program crashed"

	heatwave = 35.0 // °C that solution tends to at the full size of heat
	frost    = 0.5  // °C, of cold

	sagAfter  = 2 * time.Second // from a pump's start to the supply's fall
	sagFor    = 30 * time.Second
	unlimited = time.Duration(math.MaxInt64)

	growEvery = time.Hour // between two sizes of a fault that grows
)

type faultState struct {
	Fault
	Target      target
	Begun, Done bool
	Until       time.Duration // unlimited without an end
	Toggle      time.Duration // of chatter
	Wet         bool
}

func (f *faultState) acts() bool { return f.Begun && !f.Done }

// grown is the size that a fault has reached at a time.
func (f *faultState) grown(at time.Duration) float64 {
	if at >= f.At+f.Over {
		return f.Size
	}
	return f.Size * float64(at-f.At) / float64(f.Over)
}

// Inject plans a fault. An unknown name or place, or a size outside 0 to 1, is
// an error that says what would be right.
func (w *World) Inject(f Fault) error {
	k, ok := kinds[f.What]
	if !ok {
		return fmt.Errorf("fault %q: no such fault; %s", f.What, names(Faults()))
	}
	t, err := w.locate(k.subject, f.Where)
	if err != nil {
		return fmt.Errorf("fault %s: %w", f.What, err)
	}
	low := 0.0
	if k.signed {
		low = -1
	}
	if !(f.Size >= low && f.Size <= 1) {
		return fmt.Errorf("fault %s: size %g is not between %g and 1", f.What, f.Size, low)
	}
	if f.For < 0 || k.timed && f.For == 0 {
		return fmt.Errorf("fault %s: for %s; say how long, above 0", f.What, f.For)
	}
	if f.Over < 0 || f.Over > 0 && k.once {
		return fmt.Errorf("fault %s: over %s; only what lasts can grow", f.What, f.Over)
	}
	if f.Size == 0 {
		f.Size = 1
	}
	f.At = max(f.At, w.At)
	until := unlimited
	if f.For > 0 {
		until = f.At + f.For
	}
	w.Faults = append(w.Faults, faultState{Fault: f, Target: t, Until: until})
	w.passEdges()
	return nil
}

// Clear ends the faults of this name and place, begun or still to come, and
// says how many there were. An empty where means everywhere.
func (w *World) Clear(what, where string) int {
	n := 0
	for i := range w.Faults {
		f := &w.Faults[i]
		if f.What == what && (where == "" || f.Where == where) {
			f.Done = true
			n++
		}
	}
	w.passEdges()
	return n
}

// acting says whether a fault of this name is under way.
func (w *World) acting(what string) bool {
	return slices.ContainsFunc(w.Faults, func(f faultState) bool { return f.What == what && f.acts() })
}

// passEdges lets begin and end what is to begin or end by now, works out what
// faults do from here on, and when the next edge comes.
func (w *World) passEdges() {
	for i := range w.pots {
		w.stand(i, w.pots[i].stands(w.At))
	}
	for i := range w.Faults {
		w.age(&w.Faults[i])
	}
	w.mend()
	w.Faults = slices.DeleteFunc(w.Faults, func(f faultState) bool { return f.Done })
	w.takeEffect()
	w.power()
	w.switchOver()
	w.nextEdge = w.findEdge()
}

func (w *World) age(f *faultState) {
	k := kinds[f.What]
	if !f.Begun && !f.Done && f.At <= w.At {
		f.Begun = true
		if k.begin != nil {
			k.begin(w, f)
		}
		f.Done = f.Done || k.once && f.For == 0
	}
	if f.Until <= w.At {
		f.Done = true
	}
	if f.acts() && f.What == "chatter" && f.Toggle <= w.At {
		f.Wet = !f.Wet
		f.Toggle = w.At + time.Duration((0.3+5.7*w.random.Float64())*float64(time.Second))
	}
}

// mend frees what a fault that is over held.
func (w *World) mend() {
	for i := range w.Faults {
		if f := &w.Faults[i]; f.Done && f.What == "relay-welded" {
			w.Outputs[f.Target.Output].Stuck = false
		}
	}
}

// takeEffect sets what faults do from nothing.
func (w *World) takeEffect() {
	for i := range w.benches {
		b := &w.benches[i]
		b.dead, b.missing, b.airlocked = false, false, false
		b.speed, b.open, b.hose, b.leak, b.valve, b.tilt = 1, 1, 0, 0, -1, b.own.tilt
		for k := range b.switches {
			b.switches[k].effect = effect{}
		}
	}
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		r.leak, r.warm, r.chill, r.low.effect, r.level.effect = 0, 0, 0, effect{}, effect{}
		r.mute, r.frozen = false, false
	}
	for i := range w.outputs {
		o := &w.outputs[i]
		o.open, o.armed, o.tripped, o.gone = false, false, false, false
	}
	w.handsIn, w.hang, w.unread, w.deaf, w.slow = effect{}, 0, unlimited, false, 0
	for i := range w.Faults {
		if f := &w.Faults[i]; f.acts() && kinds[f.What].act != nil {
			kinds[f.What].act(w, f)
		}
	}
	w.silent = w.silence()
}

// power lets the program and every relay fall when the supply fails.
func (w *World) power() {
	if w.Sag.Until <= w.At {
		w.Sag.From, w.Sag.Until = unlimited, unlimited
	}
	w.Dark = w.acting("power-cut") || w.Sag.From <= w.At
	if w.Dark {
		w.Down = downPower
		w.release()
	}
}

// inrush is the current of a starting pump, which a weak supply cannot give.
func (w *World) inrush(kind safety.OutputKind) {
	if kind == safety.FloodPump && w.Sag.From == unlimited && w.acting("brownout-loop") {
		w.Sag.From, w.Sag.Until = w.At+sagAfter, w.At+sagAfter+sagFor
		w.nextEdge = min(w.nextEdge, w.Sag.From)
	}
}

func (w *World) findEdge() time.Duration {
	next := unlimited
	sooner := func(t time.Duration) {
		if t > w.At {
			next = min(next, t)
		}
	}
	for i := range w.pots {
		sooner(w.pots[i].Planted)
		sooner(w.pots[i].Removed)
	}
	for i := range w.Faults {
		f := &w.Faults[i]
		sooner(f.At)
		sooner(f.Until)
		if f.acts() && f.What == "chatter" {
			sooner(f.Toggle)
		}
		if f.acts() && w.At < f.At+f.Over {
			sooner(min(w.At+growEvery, f.At+f.Over))
		}
	}
	for i := range w.Benches {
		if w.Benches[i].Pumping {
			sooner(w.Benches[i].Primed)
		}
	}
	sooner(w.Sag.From)
	sooner(w.Sag.Until)
	return next
}
