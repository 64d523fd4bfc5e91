package config

import (
	"fmt"
	"strings"

	"benchtide/hw/lines"
)

// wire is one line in use.
type wire struct {
	path string // of the output or switch
	line lines.Line
}

// wires lists every line in use.
func (s *Site) wires() []wire {
	var all []wire
	for _, o := range s.Outputs {
		all = append(all, wire{"outputs." + o.Name, o.Line})
	}
	for _, f := range s.switches() {
		all = append(all, wire{f.path, f.Line})
	}
	return all
}

func (r *reader) checkLines(s *Site) {
	first := map[string]wire{}
	for _, w := range s.wires() {
		if !r.sound(w.path+".line") || !w.line.Fitted() {
			continue
		}
		if other, taken := first[w.line.Key()]; taken {
			r.errorf(w.path+".line", "%q: %s is wired to that line already%s; give each its own", w.line, other.path, otherwise(other.line, w.line))
			continue
		}
		first[w.line.Key()] = w
		r.checkHeader(w)
	}
	for _, o := range s.Outputs {
		r.checkPolarity(o)
		r.checkExpander(o)
	}
}

// otherwise says how the first line was written when the second was not
// written so.
func otherwise(first, second lines.Line) string {
	if strings.EqualFold(first.String(), second.String()) {
		return ""
	}
	return fmt.Sprintf(", as %q, which on a Raspberry Pi is the same", first)
}

// checkHeader doubts a line of a Raspberry Pi's header that serves something
// else too, and a pin that is none.
func (r *reader) checkHeader(w wire) {
	path := w.path + ".line"
	if w.line.Pin != 0 {
		if _, err := lines.HeaderPin(w.line.Pin); err != nil {
			r.warnf(path, "%q: %v: look whether this board has a line there", w.line, err)
		}
	}
	if n, ok := w.line.GPIO(); ok && lines.SecondJob(n) != "" {
		r.warnf(path, "%q: on a Raspberry Pi that line serves %s too: choose another, or switch that off", w.line, lines.SecondJob(n))
	}
}

// checkPolarity compares the level that energises a relay with the pull of its
// line at power-on, so that a relay stays off until the program drives it.
func (r *reader) checkPolarity(o Output) {
	n, ok := o.Line.GPIO()
	if !ok || !r.sound("outputs."+o.Name) {
		return
	}
	if up := lines.PulledUp(n); up == o.EnergiseHigh {
		pulled, level, better := "down", "low", "energises on high, or move it to GPIO0 to GPIO8"
		if up {
			pulled, level, better = "up", "high", "energises on low, or move it to GPIO9 or above"
		}
		r.warnf("outputs."+o.Name+".energise", "%s: a Raspberry Pi pulls %s %s at power-on, which energises this relay before the program runs: use a relay that %s",
			level, o.Line, pulled, better)
	}
}

// checkExpander says what an output on a chip behind a bus comes to, as far as
// the label shows that it is one.
func (r *reader) checkExpander(o Output) {
	path := "outputs." + o.Name + ".line"
	if !lines.Expander(o.Line.Chip) || !r.sound(path) {
		return
	}
	if o.Kind == EnableCoil {
		r.errorf(path, "%q: %s: wire it to a line of the processor itself", o.Line, lines.NoEnable)
		return
	}
	if o.Kind == Pump {
		r.warnf(path, "%q: an expander keeps its level when the program dies, and drops it when its own supply fails: every turn the program reads it back and, when it does not answer, ends the flood; the enable relay has to be on the processor's own line", o.Line)
	}
}

// checkUse sees to it that each output serves one purpose.
func (r *reader) checkUse(s *Site) {
	used := map[int]string{}
	use := func(output int, path, by string) {
		if output < 0 {
			return
		}
		if other, taken := used[output]; taken {
			r.errorf(path, "%q: %s uses that output already; give each its own", s.Outputs[output].Name, other)
			return
		}
		used[output] = by
	}
	for i := range s.Benches {
		b := &s.Benches[i]
		use(b.Pump, b.path(".pump"), "bench "+s.listed(i))
	}
	for i, st := range s.Stirring {
		use(st.Output, r.listed("stirring", i, ".output"), "stirring")
	}
	for i, a := range s.Aeration {
		use(a.Output, r.listed("aeration", i, ".output"), "aeration")
	}
	for i, l := range s.Lamps {
		use(l.Output, r.listed("lamps", i, ".output"), "lamps")
	}
	if s.Buzzer != nil {
		use(s.Buzzer.Output, "buzzer.output", "the buzzer")
	}
	if m := s.Messages; m != nil {
		use(m.Lamp, "messages.lamp", "the lamp of the messages")
		if s.Buzzer == nil || m.Buzzer != s.Buzzer.Output { // one may serve both
			use(m.Buzzer, "messages.buzzer", "the buzzer of the messages")
		}
	}
	r.checkUnused(s, used)
	r.checkStirring(s)
}

// checkUnused warns of outputs that serve nothing, and of pumps that nothing stops.
func (r *reader) checkUnused(s *Site, used map[int]string) {
	for i, o := range s.Outputs {
		if _, taken := used[i]; !taken && o.Kind != EnableCoil && r.sound("outputs", "benches", "stirring", "aeration", "lamps", "buzzer", "messages") {
			r.warnf("outputs."+o.Name, "nothing uses this output; it stays off")
		}
		if o.Kind == Pump && o.Enable < 0 && r.sound("outputs") {
			r.warnf("outputs."+o.Name, "no enable relay in series: when the contact of this relay welds, nothing stops the pump")
		}
	}
}

func (r *reader) checkStirring(s *Site) {
	first := map[int]bool{}
	for i, st := range s.Stirring {
		if first[st.Reservoir] && st.Reservoir >= 0 {
			r.errorf(r.listed("stirring", i, ".reservoir"), "a second stirrer on one reservoir: describe one for each reservoir")
		}
		first[st.Reservoir] = true
	}
}

// listed is the path of item i of a section that may be written as a list or,
// when it is the only one, without.
func (r *reader) listed(section string, i int, under string) string {
	if path := fmt.Sprintf("%s.%d", section, i+1); r.hasPosition(path) {
		return path + under
	}
	return section + under
}

func (r *reader) hasPosition(path string) bool {
	_, ok := r.positions[path]
	return ok
}
