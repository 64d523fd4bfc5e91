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
	for _, e := range v.named("describe each relay: flood_pump: {line: GPIO5, energise: low, kind: pump}") {
		f := e.fields("line", "energise", "kind", "behind")
		o := Output{Name: e.key, Enable: -1}
		o.Line = f.line("GPIO5")
		o.EnergiseHigh = need(f, "energise", "write the level that energises the relay: low or high", choice("low", "high")) == "high"
		o.Kind = need(f, "kind", "write what hangs on it: pump, air, enable, lamp or buzzer", choice(Pump, Air, EnableCoil, LampKind, BuzzerKind))
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
			if text, ok := scalar(v, "name an output of kind enable", words); ok {
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
		Line:   f.line("GPIO24"),
		Closes: need(f, closedBy, "write what the contact does then: closes or opens", choice("closes", "opens")) == "closes",
		Pull:   maybe(f, "pull", "write up, down or none", choice(PullUp, PullDown, PullNone), PullUp),
	}
}

// float reads a switch on a bench; nil when the key is not there.
func (f fields) float(key string, needAt bool) *Switch {
	v, ok := f.get(key)
	if !ok {
		return nil
	}
	keys := []string{"line", "at", "water", "pull"}
	if key == "leak_switch" {
		keys = []string{"line", "water", "pull"}
	}
	g := v.fields(keys...)
	sw := g.contact("water")
	if needAt {
		sw.At = need(g, "at", "the height of the water that turns it, above the floor of the table, such as 26 mm", someLength)
	} else {
		sw.At = maybe(g, "at", "the height of the water that turns it, such as 3 mm", quantity.ParseLength, 0)
	}
	return sw
}

func (r *reader) reservoirs(v value, s *Site) {
	for _, e := range v.named("describe each reservoir: tank: {usable: 200 L, keep: 20 L}") {
		f := e.fields("usable", "keep", "low_switch", "level_switch", "thermometer")
		res := Reservoir{Name: e.key}
		res.Usable = need(f, "usable", "the litres it holds when full, with those to keep, such as 200 L", someVolume)
		res.Keep = need(f, "keep", "the litres that are never drawn, to cover the intake, such as 20 L", someVolume)
		if low, ok := f.get("low_switch"); ok {
			g := low.fields("line", "at", "water", "pull", "band")
			res.LowBand = g.band()
			res.Low = g.contact("water")
			res.LowAt = need(g, "at", "the litres that the made switch proves, tables empty, such as 155 L", someVolume)
		}
		if level, ok := f.get("level_switch"); ok {
			g := level.fields("line", "at", "water", "pull", "band")
			res.LevelBand = g.band()
			res.Level = g.contact("water")
			res.LevelAt = need(g, "at", "the litres at which it turns, tables empty, such as 150 L", someVolume)
		}
		if t, ok := f.get("thermometer"); ok {
			res.Thermometer = need(t.fields("path"), "path", "the file its reading appears in, such as /sys/bus/w1/devices/28-000000000001/temperature", file)
		}
		s.Reservoirs = append(s.Reservoirs, res)
	}
}

// band reads how far below where it is made a float turns back; 0 without it.
func (f fields) band() quantity.Metres {
	return maybe(f, "band", "how far below where it is made it turns back, such as 6 mm", func(text string) (quantity.Metres, error) {
		m, err := quantity.ParseLength(text)
		if err == nil && !(m > 0 && m <= mostBand) {
			return 0, fmt.Errorf("%q: a float turns back more than 0 and at most %s below where it is made", text, mm(mostBand))
		}
		return m, err
	}, 0)
}

// mostBand is more than a float's band is (common practice, no source).
const mostBand quantity.Metres = 0.05

func (r *reader) reservoirRef(f fields, s *Site) int {
	return r.refer(f, "reservoir", "name one of the reservoirs", namesOf(s.Reservoirs, func(r Reservoir) string { return r.Name }))
}

func (r *reader) benches(v value, s *Site) {
	for _, e := range v.named("describe each bench under its name") {
		f := e.fields("reservoir", "pump", "table", "standpipe", "supply", "drain", "full_switch", "high_switch", "empty_switch", "leak_switch", "cycle")
		b := Bench{Name: e.key, Reservoir: r.reservoirRef(f, s), Pump: r.outputRef(f, s, "pump", Pump)}
		f.geometry(&b)
		b.Full, b.High = f.float("full_switch", true), f.float("high_switch", true)
		b.Empty, b.Leak = f.float("empty_switch", false), f.float("leak_switch", false)
		s.Benches = append(s.Benches, b)
	}
}

func (f fields) geometry(b *Bench) {
	if v, ok := f.need("table", "write {length: 2.4 m, width: 1.2 m, rim: 75 mm}"); ok {
		g := v.fields("length", "width", "rim")
		b.Table = sheet.Table{Length: g.length("length"), Width: g.length("width"), Rim: g.length("rim")}
	}
	if v, ok := f.need("standpipe", "write {crest: 30 mm, bore: 50 mm}"); ok {
		g := v.fields("crest", "bore")
		b.Standpipe = sheet.Standpipe{Crest: g.length("crest"), Bore: g.length("bore")}
	}
	if v, ok := f.need("supply", "write {bore: 19 mm, length: 3 m, lift: 0.8 m, max_head: 2.2 m, max_flow: 2000 L/h}"); ok {
		g := v.fields("bore", "length", "lift", "max_head", "max_flow")
		b.Supply = sheet.Supply{Bore: g.length("bore"), Length: g.length("length"), Lift: g.length("lift"), MaxHead: g.length("max_head"),
			MaxFlow: need(g, "max_flow", "the flow on the pump's label, such as 2000 L/h", someFlow)}
	}
	if v, ok := f.need("drain", "write {through: pump}, or a fitting {bore: 25 mm, length: 0.6 m}"); ok {
		b.Drain = v.drain()
	}
	if v, ok := f.get("cycle"); ok {
		g := v.fields("fill", "fall", "drain", "flow", "free")
		measured := func(key string) time.Duration {
			return maybe(g, key, "the time measured, such as 3.5 min", someTime, 0)
		}
		b.Cycle = sheet.Cycle{
			Fill: measured("fill"), Fall: measured("fall"), Drain: measured("drain"),
			Flow: maybe(g, "flow", "the flow measured while filling, such as 1280 L/h", someFlow, 0),
			Free: maybe(g, "free", "the free area measured, over that which table and pots come to, such as 97 %", freeArea, 0),
		}
	}
}

// freeArea refuses what no table measures: pots never leave less than half of
// what their rims come to, and more than the table is a wrong reading.
func freeArea(text string) (quantity.Fraction, error) {
	f, err := quantity.ParseFraction(text)
	if err == nil && !(f >= 0.5 && f <= 1.5) {
		return 0, fmt.Errorf("%q: write a share from 50 to 150 %%; read the litres again if that is what was measured", text)
	}
	return f, err
}

func (v value) drain() sheet.Drain {
	f := v.fields("through", "bore", "length", "open")
	if _, ok := f.get("through"); !ok {
		open := maybe(f, "open", "always, or between_floods for a valve that the pump's circuit shuts", choice("between_floods", "always"), "between_floods")
		return sheet.Drain{Bore: f.length("bore"), Length: f.length("length"), Always: open == "always"}
	}
	need(f, "through", "write pump", choice("pump"))
	for _, key := range []string{"bore", "length", "open"} {
		if _, ok := f.get(key); ok {
			v.errorf("through and %s: a table drains through the pump or through a fitting; keep one of the two", key)
		}
	}
	return sheet.Drain{ThroughPump: true}
}

func (f fields) length(key string) quantity.Metres {
	return need(f, key, "a length, such as 30 mm, 2.4 m or 1.2 in", someLength)
}

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
