package config

import (
	"fmt"
	"strconv"
	"strings"
)

// wire is one line in use.
type wire struct {
	path string // of the output or switch
	line string
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
	first := map[string]string{}
	for _, w := range s.wires() {
		if !r.sound(w.path + ".line") {
			continue
		}
		key := strings.ToUpper(w.line)
		if other, taken := first[key]; taken {
			r.errorf(w.path+".line", "%q: %s is wired to that line already; give each its own", w.line, other)
			continue
		}
		first[key] = w.path
		if does := otherFunction(w.line); does != "" {
			r.warnf(w.path+".line", "%q: on a Raspberry Pi that line serves %s too: choose another, or switch that off", w.line, does)
		}
	}
	for _, o := range s.Outputs {
		r.checkPolarity(o)
	}
}

// checkPolarity compares the level that energises a relay with the pull of its
// line at power-on: GPIO0–8 are pulled up and the others down (BCM2835 ARM
// Peripherals, table 6-31, from memory), so that a relay stays off until the
// program drives it.
func (r *reader) checkPolarity(o Output) {
	n, ok := gpioNumber(o.Line)
	if !ok || !r.sound("outputs."+o.Name) {
		return
	}
	if up := n <= 8; up == o.EnergiseHigh {
		pulled, level, better := "down", "low", "energises on high, or move it to GPIO0 to GPIO8"
		if up {
			pulled, level, better = "up", "high", "energises on low, or move it to GPIO9 or above"
		}
		r.warnf("outputs."+o.Name+".energise", "%s: a Raspberry Pi pulls %s %s at power-on, which energises this relay before the program runs: use a relay that %s",
			level, o.Line, pulled, better)
	}
}

// otherFunction names what else a line of the Raspberry Pi's header does.
func otherFunction(line string) string {
	switch n, ok := gpioNumber(line); {
	case !ok:
		return ""
	case n == 0 || n == 1:
		return "the EEPROM of add-on boards"
	case n == 2 || n == 3:
		return "the I2C bus"
	case n >= 7 && n <= 11:
		return "the SPI bus"
	case n == 14 || n == 15:
		return "the serial console"
	}
	return ""
}

// gpioNumber reads the number of a line of the Raspberry Pi's header.
func gpioNumber(line string) (int, bool) {
	digits, ok := strings.CutPrefix(strings.ToUpper(line), "GPIO")
	n, err := strconv.Atoi(digits)
	return n, ok && err == nil && n >= 0 && n <= 27
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
		use(b.Pump, b.path(".pump"), "bench "+b.Name)
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
	for i, o := range s.Outputs {
		if _, taken := used[i]; !taken && o.Kind != EnableCoil && r.sound("outputs", "benches", "stirring", "aeration", "lamps", "buzzer", "messages") {
			r.warnf("outputs."+o.Name, "nothing uses this output; it stays off")
		}
		if o.Kind == Pump && o.Enable < 0 && r.sound("outputs") {
			r.warnf("outputs."+o.Name, "no enable relay in series: when the contact of this relay welds, nothing stops the pump")
		}
	}
	r.checkStirring(s)
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
	if path := fmt.Sprintf("%s.%d", section, i+1); r.placed(path) {
		return path + under
	}
	return section + under
}

func (r *reader) placed(path string) bool {
	_, ok := r.places[path]
	return ok
}
