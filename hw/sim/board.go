package sim

import (
	"errors"
	"fmt"
	"time"

	"benchtide/hw"
	"benchtide/safety"
)

var (
	_ hw.Board = (*World)(nil)
	_ hw.Clock = (*World)(nil)
)

// ErrDown says that the program does not run: its power is cut or it crashed.
// Wait and Apply give it until Start.
var ErrDown = errors.New("simulated program is down")

// ErrDeaf says that no output may be as commanded. Apply gives it.
var ErrDeaf = errors.New("drive the simulated outputs: none answers")

func (w *World) alive() error {
	if w.Down == "" {
		return nil
	}
	return fmt.Errorf("%w: %s", ErrDown, w.Down)
}

// Read gives the present raw readings.
func (w *World) Read(now safety.Now, r *safety.Readings) {
	w.changed = false
	for i := range min(len(r.Benches), len(w.benches)) {
		s := &w.benches[i].switches
		r.Benches[i] = safety.BenchReadings{
			Full: w.reading(s[full].raw, now), High: w.reading(s[high].raw, now),
			Empty: w.reading(s[empty].raw, now), Leak: w.reading(s[leakPad].raw, now),
		}
	}
	for i := range min(len(r.Reservoirs), len(w.reservoirs)) {
		r.Reservoirs[i] = safety.ReservoirReadings{
			Low: w.reading(w.reservoirs[i].low.raw, now), Level: w.reading(w.reservoirs[i].level.raw, now),
		}
		r.Reservoirs[i].Temperature, r.Reservoirs[i].TemperatureOK = w.warmth(i)
	}
	r.HandsIn = w.reading(w.button(), now)
}

// warmth is what the thermometer of a reservoir shows, if one does.
func (w *World) warmth(reservoir int) (safety.Celsius, bool) {
	r, s := &w.reservoirs[reservoir], &w.Reservoirs[reservoir]
	switch {
	case !r.Thermometer || r.mute:
		return 0, false
	case r.frozen:
		return safety.Celsius(s.Shown), true
	}
	return safety.Celsius(s.Celsius), true
}

func (w *World) button() safety.Level {
	s := sensor{contact: Contact{Fitted: w.cfg.HandsIn}, effect: w.handsIn}
	return s.read(w.Pressed)
}

// reading is a switch as read now, or its last good reading while none can be.
func (w *World) reading(l safety.Level, now safety.Now) safety.Reading {
	switch {
	case l == safety.Absent:
		return safety.Reading{}
	case w.unread <= w.At:
		return safety.Reading{Level: safety.Fault, At: max(0, w.unread-w.Base)}
	}
	return safety.Reading{Level: l, At: now.Mono}
}

// Apply drives the relay coils.
func (w *World) Apply(c safety.Command) error {
	if err := w.alive(); err != nil {
		return err
	}
	if w.deaf {
		return ErrDeaf
	}
	w.energise(c.On)
	return w.readBack()
}

// ErrGone says that an output is on an expander that does not answer: what it
// was told last is what it keeps.
var ErrGone = errors.New("read back: its expander does not answer")

// readBack is an error for each output that does not answer, whatever it was
// commanded: no command tells whether anybody was there to take it.
func (w *World) readBack() error {
	if w.silent == nil {
		return nil
	}
	return w.silent
}

// silence is that of the outputs that do not answer, put into words once: it is
// the same in every turn of a fault.
type silence struct {
	outputs []error
	text    string
}

func (s *silence) Error() string   { return s.text }
func (s *silence) Unwrap() []error { return s.outputs }

// silence returns nil while every output answers.
func (w *World) silence() *silence {
	var outputs []error
	for i := range w.outputs {
		if w.outputs[i].gone {
			outputs = append(outputs, &hw.OutputError{Output: i, Name: w.outputs[i].Name, Behind: true, Err: ErrGone})
		}
	}
	if outputs == nil {
		return nil
	}
	return &silence{outputs, errors.Join(outputs...).Error()}
}

// Answers reports whether an output can be commanded at all.
func (w *World) Answers(output int) bool { return !w.outputs[output].gone }

// energise drives the coils that on names and lets the others go. An expander
// that does not answer keeps its levels while there is power.
func (w *World) energise(on func(int) bool) {
	changed := false
	for i := range w.Outputs {
		if s := &w.Outputs[i]; (w.Dark || !w.outputs[i].gone) && s.Coil != on(i) {
			s.Coil, changed = !s.Coil, true
		}
	}
	if changed {
		w.switchOver()
	}
	w.Stride = firstStride
}

// NextRead asks for the moment in which a hang begins, where a board that is
// polled would have a turn due; otherwise Wait returns when a reading changes and
// when the fault ends for which outputs do not obey.
func (w *World) NextRead(time.Duration) time.Duration {
	next := unlimited
	for i := range w.Faults {
		if f := &w.Faults[i]; f.What == "process-hang" && !f.Begun {
			next = min(next, f.At)
		}
	}
	if next == unlimited {
		return unlimited
	}
	return next - w.Base
}

// Close puts every coil off.
func (w *World) Close() error {
	w.release()
	return nil
}

// release lets every coil go.
func (w *World) release() {
	w.energise(func(int) bool { return false })
}

// switchOver brings contacts, circuits and pumps to where coils, switches,
// faults and power say. HIGH is wired into the coil of its enable: while one is
// wet that coil cannot pull in.
func (w *World) switchOver() {
	w.sense()
	for i := range w.outputs {
		w.contact(i, w.outputs[i].Kind != safety.Enable || !w.highOpens(i))
	}
	for i := range w.outputs {
		w.circuit(i)
	}
	for i := range w.benches {
		w.drive(i)
	}
	w.relist()
	w.Stride = firstStride
}

func (w *World) contact(i int, coilMayPull bool) {
	o, s := &w.outputs[i], &w.Outputs[i]
	closed := s.Stuck || s.Coil && coilMayPull && !o.open
	if closed && !s.Contact && o.armed {
		s.Stuck = true
	}
	s.Contact = closed
}

func (w *World) circuit(i int) {
	o, s := &w.outputs[i], &w.Outputs[i]
	on := s.Contact && !o.tripped && !w.Dark && (o.Enable < 0 || w.Outputs[o.Enable].Contact)
	if on && !s.Circuit {
		s.Starts++
		w.inrush(o.Kind)
	}
	s.Circuit = on
}

// airEscapes is how long an air-bound pump must rest for its air to escape. No
// source; "some minutes" is common practice.
const airEscapes = 5 * time.Minute

// drive starts or stops a bench's pump. One that ran air-bound and then rested
// long enough has lost its air when it starts.
func (w *World) drive(bench int) {
	b, s := &w.benches[bench], &w.Benches[bench]
	on := w.Outputs[b.Pump].Circuit
	switch {
	case s.Pumping && !on:
		s.Idle = w.At
	case !s.Pumping && on:
		s.Air = s.Air && w.At-s.Idle < airEscapes || b.airlocked
		if s.Primed = w.At + b.own.air; b.own.air > 0 {
			w.nextEdge = min(w.nextEdge, s.Primed)
		}
	}
	if on {
		b.run = b.own.ofRun(w.Outputs[b.Pump].Starts)
	}
	s.Pumping, b.spinning = on, on && !b.dead
	b.turning = b.spinning && !s.Air && s.Primed <= w.At
}

// highOpens says whether a HIGH switch holds the coil of an enable open.
func (w *World) highOpens(enable int) bool {
	for i := range w.benches {
		b := &w.benches[i]
		if w.outputs[b.Pump].Enable == enable && b.switches[high].raw == safety.Wet {
			return true
		}
	}
	return false
}
