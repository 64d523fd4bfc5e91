package config

import (
	"fmt"
	"strings"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/safety"
)

func (r *reader) outputs(v value, s *Site) {
	behind := map[int]value{}
	for _, e := range v.named() {
		f := e.fields()
		o := Output{Name: e.key, Enable: -1}
		o.Line = f.line()
		o.EnergiseHigh = chosen[string](f, "energise") == "high"
		o.Kind = chosen[OutputKind](f, "kind")
		if b, ok := f.get("behind"); ok {
			behind[len(s.Outputs)] = b
		}
		s.Outputs = append(s.Outputs, o)
	}
	if len(s.Outputs) > safety.MaxOutputs {
		v.errorf("%d outputs: a site has at most %d", len(s.Outputs), safety.MaxOutputs)
	}
	r.series(s, behind)
}

// series finds the enable relay in series with each pump: the only one there
// is, or the one that the pump says it is behind.
func (r *reader) series(s *Site, behind map[int]value) {
	enables := map[string]int{}
	var names []string
	for i, o := range s.Outputs {
		if o.Kind == EnableCoil {
			enables[o.Name] = i
			names = append(names, o.Name)
		}
	}
	for i := range s.Outputs {
		o, path := &s.Outputs[i], "outputs."+s.Outputs[i].Name
		v, given := behind[i]
		switch {
		case given && o.Kind != Pump:
			v.errorf("only a pump is behind an enable relay; leave this out")
		case given:
			enable, known := -1, false
			if text, ok := scalar(v, words); ok {
				if enable, known = enables[text]; !known {
					v.errorf("%q: no output of kind enable has that name: %s", text, suggest(text, names, "there are ", "and"))
					enable = -1
				}
			}
			o.Enable = enable
		case o.Kind == Pump && len(names) == 1:
			o.Enable = enables[names[0]]
		case o.Kind == Pump && len(names) > 1:
			r.errorf(path, "several enable relays: say which one is in series with this pump, behind: %s", strings.Join(names, " or "))
		}
	}
}

// contact reads a switch from its line, pull and the key that says what closes it.
func (f fields) contact(closedBy string) *Switch {
	return &Switch{
		Line:   f.line(),
		Closes: chosen[string](f, closedBy) == "closes",
		Pull:   chosen[Pull](f, "pull"),
	}
}

// float reads a switch on a bench; nil when the key is not there.
func (f fields) float(key string) *Switch {
	v, ok := f.get(key)
	if !ok {
		return nil
	}
	g := v.fields()
	sw := g.contact("water")
	if g.section.child("at") != nil { // a leak sensor lies on the floor
		sw.At = g.length("at")
	}
	return sw
}

func (r *reader) reservoirs(v value, s *Site) {
	for _, e := range v.named() {
		f := e.fields()
		res := Reservoir{Name: e.key, Usable: f.volume("usable"), Keep: f.volume("keep")}
		f.title(&s.Titles.Reservoirs, res.Name)
		if v, ok := f.get("inside"); ok {
			res.Inside = v.inside()
		}
		res.Low, res.LowAt, res.LowBand = f.weighing("low_switch")
		res.Level, res.LevelAt, res.LevelBand = f.weighing("level_switch")
		if t, ok := f.get("thermometer"); ok {
			res.Thermometer = plain(t.fields(), "path", file)
		}
		s.Reservoirs = append(s.Reservoirs, res)
	}
}

// weighing reads a float in a reservoir, at how many litres it turns and how
// far below where it is made it turns back; nil when the key is not there.
func (f fields) weighing(key string) (*Switch, quantity.Litres, quantity.Metres) {
	v, ok := f.get(key)
	if !ok {
		return nil, 0, 0
	}
	g := v.fields()
	return g.contact("water"), g.volume("at"), ranged(g, "band", someLength)
}

// mostBand is more than a float's band is (common practice, no source).
const mostBand quantity.Metres = 0.05

func (r *reader) reservoirRef(f fields, s *Site) int {
	return r.refer(f, "reservoir", s.ReservoirNames())
}

func (r *reader) benches(v value, s *Site) {
	for _, e := range v.named() {
		f := e.fields()
		b := Bench{Name: e.key, Reservoir: r.reservoirRef(f, s), Pump: r.outputRef(f, s, "pump", Pump)}
		f.title(&s.Titles.Benches, b.Name)
		f.geometry(&b)
		b.Full, b.High = f.float("full_switch"), f.float("high_switch")
		b.Empty, b.Leak = f.float("empty_switch"), f.float("leak_switch")
		s.Benches = append(s.Benches, b)
	}
}

func (f fields) geometry(b *Bench) {
	if v, ok := f.need("table"); ok {
		g := v.fields()
		b.Table = sheet.Table{Length: g.length("length"), Width: g.length("width"), Rim: g.length("rim")}
	}
	if v, ok := f.need("standpipe"); ok {
		g := v.fields()
		b.Standpipe = sheet.Standpipe{Crest: g.length("crest"), Bore: g.length("bore")}
	}
	if v, ok := f.need("supply"); ok {
		g := v.fields()
		b.Supply = sheet.Supply{Bore: g.length("bore"), Length: g.length("length"), Lift: g.length("lift")}
		g.pump(&b.Supply)
	}
	if v, ok := f.need("drain"); ok {
		b.Drain = v.drain()
	}
	if v, ok := f.get("cycle"); ok {
		g := v.fields()
		b.Cycle = sheet.Cycle{Fill: g.time("fill"), Fall: g.time("fall"), Drain: g.time("drain"), Flow: g.flow("flow"), Free: ranged(g, "free", quantity.ParseFraction)}
	}
}

// inside reads the plan of a reservoir.
func (v value) inside() Inside {
	f := v.fields()
	if _, round := f.get("diameter"); !round {
		f.need("length")
		f.need("width")
		return Inside{Length: f.length("length"), Width: f.length("width")}
	}
	for _, key := range []string{"length", "width"} {
		if _, ok := f.get(key); ok {
			v.errorf("diameter and %s: a reservoir is round or has a length and a width; keep one of the two", key)
		}
	}
	return Inside{Diameter: f.length("diameter")}
}

func (v value) drain() sheet.Drain {
	f := v.fields()
	if _, ok := f.get("through"); f.slipped["through"] {
		return sheet.Drain{}
	} else if !ok {
		f.need("bore")
		f.need("length")
		return sheet.Drain{Bore: f.length("bore"), Length: f.length("length"), Always: chosen[string](f, "open") == "always"}
	}
	chosen[string](f, "through")
	for _, key := range []string{"bore", "length", "open"} {
		if _, ok := f.get(key); ok {
			v.errorf("through and %s: a table drains through the pump or through a fitting; keep one of the two", key)
		}
	}
	return sheet.Drain{ThroughPump: true}
}

// length, volume, flow and time read a quantity, which is more than nothing
// unless its key is described otherwise.
func (f fields) length(key string) quantity.Metres {
	if f.section.child(key).Zero {
		return plain(f, key, quantity.ParseLength)
	}
	return plain(f, key, someLength)
}

func (f fields) volume(key string) quantity.Litres { return plain(f, key, someVolume) }

func (f fields) flow(key string) quantity.LitresPerHour {
	if f.section.child(key).Zero {
		return plain(f, key, quantity.ParseFlow)
	}
	return plain(f, key, someFlow)
}

func (f fields) time(key string) time.Duration { return ranged(f, key, someTime) }

// some refuses nothing at all.
func some[Q ~float64 | ~int64](parse func(string) (Q, error)) func(string) (Q, error) {
	return func(text string) (Q, error) {
		q, err := parse(text)
		if err == nil && q <= 0 {
			return q, fmt.Errorf("%q: it must be more than nothing", text)
		}
		return q, err
	}
}

var (
	someLength = some(quantity.ParseLength)
	someVolume = some(quantity.ParseVolume)
	someFlow   = some(quantity.ParseFlow)
	someTime   = some(quantity.ParseDuration)
)

func file(text string) (string, error) {
	if !strings.HasPrefix(text, "/") {
		return "", fmt.Errorf("%q: write the whole path, beginning with /", text)
	}
	return text, nil
}
