package config

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"benchtide/controller/texts"
	"benchtide/schedule"
)

var siteKeys = []string{
	"site", "board", "outputs", "reservoirs", "benches", "stirring", "aeration", "lamps", "buzzer", "hands_in_button", "messages", "plans", "batches",
}

// site reads the whole file. Names are read before what refers to them,
// whatever their order in the file.
func (r *reader) site(top value) *Site {
	s := &Site{Board: Simulated, Zone: time.UTC}
	f := top.fields(siteKeys...)
	if v, ok := f.need("site", "name the site: {name: …, timezone: Europe/Dublin}"); ok {
		r.head(v, s)
	}
	s.Board = need(f, "board", "write simulated or gpio", choice(Simulated, GPIO))
	if v, ok := f.need("outputs", "describe each relay: flood_pump: {line: GPIO5, energise: low, kind: pump}"); ok {
		r.outputs(v, s)
	}
	if v, ok := f.need("reservoirs", "describe each reservoir: tank: {usable: 200 L, keep: 20 L}"); ok {
		r.reservoirs(v, s)
	}
	if v, ok := f.need("benches", "describe each bench under its name"); ok {
		r.benches(v, s)
	}
	r.company(f, s)
	if v, ok := f.need("plans", "give at least one plan, a list of stages under its name"); ok {
		r.plans(v, s)
	}
	if v, ok := f.get("batches"); ok {
		r.batches(v, s)
	}
	return s
}

func (r *reader) head(v value, s *Site) {
	f := v.fields("name", "timezone", "latitude", "longitude", "floor", "climate", "weather")
	s.Name = f.called("name the site")
	s.Zone = need(f, "timezone", "name the zone, such as Europe/Dublin", zone)
	floor := maybe(f, "floor", "write drained or dry-room", choice("drained", "dry-room"), "dry-room")
	s.FloorDrained = floor == "drained"
	if c, ok := f.get("climate"); ok {
		r.climate(c, s)
	}

	s.Records = maybe(f, "weather", "a table of days on record or the log of a sensor, such as weather.csv", words, "")
	_, north := f.get("latitude")
	_, east := f.get("longitude")
	if !north && !east {
		return
	}
	s.Place = &Place{
		Latitude:  need(f, "latitude", "give it with the longitude, in degrees, north positive", degrees(90)),
		Longitude: need(f, "longitude", "give it with the latitude, in degrees, east positive", degrees(180)),
	}
}

// company reads what stands beside benches and reservoirs.
func (r *reader) company(f fields, s *Site) {
	each := func(key, right string, read func(value, *Site)) {
		if v, ok := f.get(key); ok {
			for _, item := range v.oneOrMore(right) {
				read(item, s)
			}
		}
	}
	each("stirring", "write {output: stirrer, before_flood: 10 min} or a list of such", r.stirring)
	each("aeration", "write {output: air, always: true} or a list of such", r.aeration)
	each("lamps", `write {output: lamps, on: "06:00", off: "22:00"} or a list of such`, r.lamp)
	if v, ok := f.get("buzzer"); ok {
		r.buzzer(v, s)
	}
	if v, ok := f.get("hands_in_button"); ok {
		g := v.fields("line", "pressed", "pull")
		s.HandsIn = g.contact("pressed")
	}
	if v, ok := f.get("messages"); ok {
		r.messages(v, s)
	}
}

func (r *reader) stirring(v value, s *Site) {
	f := v.fields("output", "reservoir", "before_flood")
	st := Stirring{Output: r.outputRef(f, s, "output", Pump), BeforeFlood: need(f, "before_flood", "how long it stirs ahead of a flood, such as 10 min", someTime)}
	if _, named := f.get("reservoir"); named || len(s.Reservoirs) != 1 {
		st.Reservoir = r.reservoirRef(f, s)
	}
	s.Stirring = append(s.Stirring, st)
}

func (r *reader) aeration(v value, s *Site) {
	f := v.fields("output", "always", "from", "to")
	a := Aeration{Output: r.outputRef(f, s, "output", Air), Always: maybe(f, "always", "write true or false", yesNo, false)}
	_, from := f.get("from")
	_, to := f.get("to")
	switch {
	case a.Always && (from || to):
		v.errorf("always is true and hours are given: keep one of the two")
	case !a.Always:
		const right = `write always: true, or hours such as from: "06:00", to: "22:00"`
		a.From, a.To = need(f, "from", right, schedule.ParseTimeOfDay), need(f, "to", right, schedule.ParseTimeOfDay)
	}
	s.Aeration = append(s.Aeration, a)
}

func (r *reader) lamp(v value, s *Site) {
	f := v.fields("output", "on", "off", "flux")
	l := Lamp{Output: r.outputRef(f, s, "output", LampKind)}
	l.On = need(f, "on", `when they light, such as "06:00"`, schedule.ParseTimeOfDay)
	l.Off = need(f, "off", `when they go out, such as "22:00"`, schedule.ParseTimeOfDay)
	l.Flux = maybe(f, "flux", "at the leaves, such as 180 umol/m2s", flux, 0)
	s.Lamps = append(s.Lamps, l)
}

func (r *reader) buzzer(v value, s *Site) {
	f := v.fields("output", "before_start")
	s.Buzzer = &Buzzer{
		Output:      r.outputRef(f, s, "output", BuzzerKind),
		BeforeStart: need(f, "before_start", "how long it sounds before an automatic start, such as 10 s", someTime),
	}
}

// named reads a mapping from names to sections.
func (v value) named(right string) []entry {
	var all []entry
	for _, e := range v.entries(right) {
		if _, err := name(e.key); err != nil {
			e.errorf("%v", err)
			continue
		}
		all = append(all, e)
	}
	if len(all) == 0 && v.node.Kind == yaml.MappingNode && len(v.node.Content) == 0 {
		v.errorf("empty: %s", right)
	}
	return all
}

// refer reads a name and returns its index among names; -1, noted, when it is
// none of them.
func (r *reader) refer(f fields, key, right string, names []string) int {
	v, ok := f.need(key, right)
	if !ok {
		return -1
	}
	text, ok := scalar(v, right, words)
	if !ok {
		return -1
	}
	if i := slices.Index(names, text); i >= 0 {
		return i
	}
	v.errorf("%q: no such name: %s", text, suggest(text, names, "there are ", "and"))
	return -1
}

func namesOf[T any](all []T, name func(T) string) []string {
	names := make([]string, len(all))
	for i, a := range all {
		names[i] = name(a)
	}
	return names
}

// outputRef reads the name of an output of this kind and returns its index.
func (r *reader) outputRef(f fields, s *Site, key string, kind OutputKind) int {
	i := r.refer(f, key, "name one of the outputs", namesOf(s.Outputs, func(o Output) string { return o.Name }))
	if i >= 0 && s.Outputs[i].Kind != kind && s.Outputs[i].Kind != "" {
		r.errorf(f.join(key), "%q: that output is of kind %s; an output of kind %s belongs here", s.Outputs[i].Name, s.Outputs[i].Kind, kind)
	}
	return i
}

// choice reads one of a few words.
func choice[T ~string](options ...T) func(string) (T, error) {
	return func(text string) (T, error) {
		var known []string
		for _, o := range options {
			if text == string(o) {
				return o, nil
			}
			known = append(known, string(o))
		}
		return "", fmt.Errorf("%q: %s", text, suggest(text, known, "write ", "or"))
	}
}

func words(text string) (string, error) {
	if strings.TrimSpace(text) == "" {
		return "", fmt.Errorf("%q: nothing is written here", text)
	}
	return strings.TrimSpace(text), nil
}

// called reads what people are to read as a name.
func (f fields) called(right string) string {
	if v, ok := f.get("name"); ok && v.node.Kind == yaml.ScalarNode {
		if err := texts.Line(v.node.Value, texts.Name); err != nil {
			v.errorf("%s: %v", texts.Short(v.node.Value), err)
			return ""
		}
	}
	return need(f, "name", right, words)
}

// name reads what benches, outputs, batches and the like are called. Such
// names stand in addresses and measurements, so they are kept plain.
func name(text string) (string, error) {
	for i, r := range text {
		letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !letter && (i == 0 || !(r >= '0' && r <= '9' || r == '_' || r == '-')) {
			return "", fmt.Errorf("name %s: begin with a letter and use letters, digits, _ and - alone", texts.Short(text))
		}
	}
	if text == "" || len(text) > 40 {
		return "", fmt.Errorf("name %s: a name has 1 to 40 letters", texts.Short(text))
	}
	return text, nil
}

func zone(text string) (*time.Location, error) {
	if text == "" || text == "Local" {
		return time.UTC, fmt.Errorf("%q: name the site's own zone, such as Europe/Dublin", text)
	}
	loc, err := time.LoadLocation(text)
	if err != nil {
		return time.UTC, fmt.Errorf("%q: no such time zone; name a place of the tz database, such as Europe/Dublin or America/New_York", text)
	}
	return loc, nil
}

func degrees(most float64) func(string) (float64, error) {
	return func(text string) (float64, error) {
		d, err := strconv.ParseFloat(text, 64)
		if err != nil || !(math.Abs(d) <= most) {
			return 0, fmt.Errorf("%q: write degrees from -%g to %g, such as 53.2", text, most, most)
		}
		return d, nil
	}
}

func yesNo(text string) (bool, error) {
	switch text {
	case "true":
		return true, nil
	case "false":
		return false, nil
	}
	return false, fmt.Errorf("%q: write true or false", text)
}
