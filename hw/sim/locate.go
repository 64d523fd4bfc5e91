package sim

import (
	"fmt"
	"slices"
	"strings"

	"benchtide/safety"
)

// target is where a fault acts; an index that does not apply is -1.
type target struct{ Bench, Switch, Reservoir, Output int }

// sensorAt gives the switch that a fault acts on.
func (w *World) sensorAt(t target) *effect {
	switch {
	case t.Switch == handsInSwitch:
		return &w.handsIn
	case t.Bench >= 0:
		return &w.benches[t.Bench].switches[t.Switch].effect
	}
	if t.Switch == levelSwitch {
		return &w.reservoirs[t.Reservoir].level.effect
	}
	return &w.reservoirs[t.Reservoir].low.effect
}

// handsInSwitch stands for the button where a switch of a bench is meant.
const handsInSwitch = switches

// levelSwitch stands for the second float of a reservoir, 0 for its low switch.
const levelSwitch = switches + 1

// subject is the kind of thing that a fault happens to.
type subject uint8

const (
	onBench subject = iota
	onValve         // a bench whose drain has a valve
	onOutput
	onExpander // an output that may be on an expander: any but an enable relay
	onSwitch
	onBenchOrSwitch // a bench means its FULL
	onReservoir
	onCircuit // an output, a bench's pump, or empty for every pump
	onHost
)

// locate finds where in the site.
func (w *World) locate(p subject, where string) (target, error) {
	t := target{-1, -1, -1, -1}
	found := false
	switch p {
	case onHost:
		found = where == ""
	case onCircuit:
		if t.Output = w.outputNamed(where); t.Output < 0 && w.benchNamed(where) >= 0 {
			t.Output = w.benches[w.benchNamed(where)].Pump
		}
		found = t.Output >= 0 || where == ""
	case onOutput:
		t.Output = w.outputNamed(where)
		found = t.Output >= 0
	case onExpander:
		t.Output = w.outputNamed(where)
		found = t.Output >= 0 && w.outputs[t.Output].Kind != safety.Enable
	case onBench:
		t.Bench = w.benchNamed(where)
		found = t.Bench >= 0
	case onValve:
		t.Bench = w.benchNamed(where)
		found = t.Bench >= 0 && w.cfg.Benches[t.Bench].Drain.valve()
	case onReservoir:
		t.Reservoir = w.reservoirNamed(where)
		found = t.Reservoir >= 0
	case onSwitch, onBenchOrSwitch:
		if p == onBenchOrSwitch && w.benchNamed(where) >= 0 {
			where += ".full"
		}
		t, found = w.switchNamed(where)
	}
	if !found {
		return t, fmt.Errorf("%q is not where it can happen; %s", where, w.subjects(p))
	}
	return t, nil
}

func (w *World) benchNamed(name string) int {
	return slices.IndexFunc(w.cfg.Benches, func(b Bench) bool { return b.Name == name })
}

func (w *World) outputNamed(name string) int {
	return slices.IndexFunc(w.cfg.Outputs, func(o Output) bool { return o.Name == name })
}

func (w *World) reservoirNamed(name string) int {
	return slices.IndexFunc(w.cfg.Reservoirs, func(r Reservoir) bool { return r.Name == name })
}

// switchNamed finds a fitted switch: "bench.full", "reservoir.low", "hands_in".
func (w *World) switchNamed(where string) (target, bool) {
	if where == "hands_in" {
		return target{-1, handsInSwitch, -1, -1}, w.cfg.HandsIn
	}
	owner, name, _ := strings.Cut(where, ".")
	bench, kind := w.benchNamed(owner), slices.Index(switchNames[:], name)
	if bench >= 0 && kind >= 0 {
		return target{bench, kind, -1, -1}, w.benches[bench].switches[kind].contact.Fitted
	}
	if r := w.reservoirNamed(owner); r >= 0 && name == "low" {
		return target{-1, 0, r, -1}, w.cfg.Reservoirs[r].Low.Fitted
	} else if r >= 0 && name == "level" {
		return target{-1, levelSwitch, r, -1}, w.cfg.Reservoirs[r].Level.Fitted
	}
	return target{-1, -1, -1, -1}, false
}

// subjects names all that locate would find.
func (w *World) subjects(p subject) string {
	var all []string
	switch p {
	case onHost:
		return "it happens to the machine: leave the place out"
	case onOutput, onCircuit, onExpander:
		for _, o := range w.cfg.Outputs {
			if p != onExpander || o.Kind != safety.Enable {
				all = append(all, o.Name)
			}
		}
	case onReservoir:
		for _, r := range w.cfg.Reservoirs {
			all = append(all, r.Name)
		}
	}
	if p == onBench || p == onCircuit || p == onBenchOrSwitch {
		for _, b := range w.cfg.Benches {
			all = append(all, b.Name)
		}
	}
	if p == onValve {
		for _, b := range w.cfg.Benches {
			if b.Drain.valve() {
				all = append(all, b.Name)
			}
		}
	}
	if p == onSwitch || p == onBenchOrSwitch {
		all = append(all, w.fitted()...)
	}
	return names(all)
}

// fitted names every switch that there is.
func (w *World) fitted() []string {
	var all []string
	for i := range w.benches {
		for k := range w.benches[i].switches {
			if w.benches[i].switches[k].contact.Fitted {
				all = append(all, w.benches[i].Name+"."+switchNames[k])
			}
		}
	}
	for _, r := range w.cfg.Reservoirs {
		if r.Low.Fitted {
			all = append(all, r.Name+".low")
		}
		if r.Level.Fitted {
			all = append(all, r.Name+".level")
		}
	}
	if w.cfg.HandsIn {
		all = append(all, "hands_in")
	}
	return all
}

// names lists what may stand in where, for an error.
func names(all []string) string {
	if len(all) == 0 {
		return "there is none"
	}
	return "one of " + strings.Join(all, ", ")
}
