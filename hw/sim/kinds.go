package sim

import (
	"maps"
	"slices"
	"time"

	"benchtide/safety"
)

// kind is what one fault needs and does. begin acts once, act sets its effect
// anew whenever effects are worked out.
type kind struct {
	subject subject
	once    bool // over at once unless it has a duration
	timed   bool // must have a duration
	signed  bool // its size may be negative
	begin   func(*World, *faultState)
	act     func(*World, *faultState)
}

// Faults lists the names of all faults.
func Faults() []string { return slices.Sorted(maps.Keys(kinds)) }

var kinds = map[string]kind{
	"pump-dead": {subject: onBench, act: func(w *World, f *faultState) { w.at(f).dead = true }},
	"pump-weak": {subject: onBench, act: func(w *World, f *faultState) { w.at(f).speed *= 1 - f.grown(w.At) }},
	"air-lock": {subject: onBench, once: true,
		begin: bindAir,
		act:   func(w *World, f *faultState) { w.at(f).airlocked = true }},
	"relay-welded":  {subject: onOutput, act: func(w *World, f *faultState) { w.outputs[f.Target.Output].armed = true }},
	"expander-gone": {subject: onExpander, act: func(w *World, f *faultState) { w.outputs[f.Target.Output].gone = true }},
	"relay-open":    {subject: onOutput, act: func(w *World, f *faultState) { w.outputs[f.Target.Output].open = true }},

	"full-stuck-low":  {subject: onBench, act: stick(full, safety.Dry)},
	"full-stuck-high": {subject: onBench, act: stick(full, safety.Wet)},
	"high-dead":       {subject: onBench, act: stick(high, safety.Dry)},
	"low-stuck": {subject: onReservoir, act: func(w *World, f *faultState) {
		w.reservoirs[f.Target.Reservoir].low.stuck = safety.Wet
	}},
	"wire-open":  {subject: onSwitch, act: func(w *World, f *faultState) { w.sensorAt(f.Target).broken = true }},
	"wire-short": {subject: onSwitch, act: func(w *World, f *faultState) { w.sensorAt(f.Target).bridge = true }},
	"chatter": {subject: onBenchOrSwitch, act: func(w *World, f *faultState) {
		w.sensorAt(f.Target).stuck = levelOf(f.Wet)
	}},

	"drain-blocked":     {subject: onBench, act: func(w *World, f *faultState) { w.at(f).open *= 1 - f.grown(w.At) }},
	"standpipe-missing": {subject: onBench, act: func(w *World, f *faultState) { w.at(f).missing = true }},
	"valve-stuck":       {subject: onValve, act: func(w *World, f *faultState) { w.at(f).valve = f.Size }},
	"table-tilted":      {subject: onBench, signed: true, act: func(w *World, f *faultState) { w.at(f).tilt += f.grown(w.At) * leans }},
	"table-leak":        {subject: onBench, act: func(w *World, f *faultState) { b := w.at(f); b.leak = max(b.leak, f.grown(w.At)) }},
	"hose-off":          {subject: onBench, act: func(w *World, f *faultState) { b := w.at(f); b.hose = max(b.hose, f.grown(w.At)) }},
	"reservoir-leak": {subject: onReservoir, act: func(w *World, f *faultState) {
		r := &w.reservoirs[f.Target.Reservoir]
		r.leak = max(r.leak, f.grown(w.At))
	}},
	"top-up-while-flooded": {subject: onReservoir},
	"heat":                 {subject: onReservoir, act: func(w *World, f *faultState) { w.reservoirs[f.Target.Reservoir].warm = f.grown(w.At) }},
	"thermometer-dead":     {subject: onReservoir, act: func(w *World, f *faultState) { w.reservoirs[f.Target.Reservoir].mute = true }},
	"thermometer-stuck": {subject: onReservoir, begin: stickThermometer,
		act: func(w *World, f *faultState) { w.reservoirs[f.Target.Reservoir].frozen = true }},
	"cold": {subject: onReservoir, act: func(w *World, f *faultState) { w.reservoirs[f.Target.Reservoir].chill = f.grown(w.At) }},

	"breaker-tripped": {subject: onCircuit, act: tripBreaker},
	"power-cut":       {subject: onHost},
	"brownout-loop":   {subject: onHost},
	"process-hang":    {subject: onHost, timed: true, act: func(w *World, f *faultState) { w.hang = max(w.hang, f.Until) }},
	"process-crash":   {subject: onHost, once: true, begin: crash},
	"clock-jump":      {subject: onHost, once: true, signed: true, begin: jump},
	"storage-full":    {subject: onHost},
	"storage-broken":  {subject: onHost},
	"storage-slow":    {subject: onHost, act: func(w *World, f *faultState) { w.slow = max(w.slow, f.grown(w.At)) }},
	"network-down":    {subject: onHost},
	"switches-unread": {subject: onHost, act: func(w *World, f *faultState) { w.unread = min(w.unread, f.At) }},
	"outputs-deaf":    {subject: onHost, act: func(w *World, _ *faultState) { w.deaf = true }},
}

// leans is how much higher or lower than its middle an end of a table stands
// that is out of level at full size: a turn or two of a screw foot (common
// practice, no source).
const leans = 0.005 // m

func (w *World) at(f *faultState) *bench { return &w.benches[f.Target.Bench] }

func stick(k int, at safety.Level) func(*World, *faultState) {
	return func(w *World, f *faultState) { w.at(f).switches[k].stuck = at }
}

// stickThermometer has a thermometer show from now on what it shows now.
func stickThermometer(w *World, f *faultState) {
	r := &w.Reservoirs[f.Target.Reservoir]
	r.Shown = r.Celsius
}

// bindAir lasts until the pump has run and then rested; air that comes back at each
// start goes with what lets it in, and does not wait for a run after that.
func bindAir(w *World, f *faultState) {
	b := &w.Benches[f.Target.Bench]
	b.Air = true
	if f.For == 0 {
		b.Idle = unlimited
	}
}

func levelOf(wet bool) safety.Level {
	if wet {
		return safety.Wet
	}
	return safety.Dry
}

func tripBreaker(w *World, f *faultState) {
	for i := range w.outputs {
		o := &w.outputs[i]
		pump := o.Kind == safety.FloodPump || o.Kind == safety.Stirrer
		o.tripped = o.tripped || i == f.Target.Output || f.Target.Output < 0 && pump
	}
}

func crash(w *World, _ *faultState) {
	if w.Down == "" {
		w.Down = downCrash
	}
	if !w.cfg.KeepOnCrash {
		w.release()
	}
}

// jump steps the wall clock by For, an hour without one, and is then over.
func jump(w *World, f *faultState) {
	by := f.For
	if by == 0 {
		by = time.Hour
	}
	w.Shift += time.Duration(f.Size * float64(by))
	f.Done = true
}
