package config

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// site reads the whole file. Names are read before what refers to them,
// whatever their order in the file.
func (r *reader) site(top value) *Site {
	s := &Site{Board: Simulated, Zone: time.UTC}
	f := top.fields()
	if v, ok := f.need("site"); ok {
		r.head(v, s)
	}
	s.Board = chosen[Board](f, "board")
	if v, ok := f.need("outputs"); ok {
		r.outputs(v, s)
	}
	if v, ok := f.need("reservoirs"); ok {
		r.reservoirs(v, s)
	}
	if v, ok := f.need("benches"); ok {
		r.benches(v, s)
	}
	r.company(f, s)
	if v, ok := f.need("plans"); ok {
		r.plans(v, s)
	}
	if v, ok := f.get("batches"); ok {
		r.batches(v, s)
	}
	return s
}

func (r *reader) head(v value, s *Site) {
	f := v.fields()
	if chosen[string](f, "units") == quantity.US.String() {
		s.Units = quantity.US
	}
	s.Name = f.called("name")
	s.Zone = time.UTC
	if z := plain(f, "timezone", zone); z != nil {
		s.Zone = z
	}
	if moving, ok := stopped[s.Zone.String()]; ok {
		r.warnf(f.join("timezone"), "%s: its clocks have no summer time: where they change in spring write the zone of the place, such as %s", s.Zone, moving)
	}
	s.FloorDrained = chosen[string](f, "floor") == "drained"
	if c, ok := f.get("climate"); ok {
		r.climate(c, s)
	}
	s.Records = plain(f, "weather", words)
	_, north := f.get("latitude")
	_, east := f.get("longitude")
	if north || east {
		f.need("latitude")
		f.need("longitude")
		s.Location = &Location{Latitude: ranged(f, "latitude", degrees), Longitude: ranged(f, "longitude", degrees)}
	}
}

// company reads what stands beside benches and reservoirs.
func (r *reader) company(f fields, s *Site) {
	each := func(key string, read func(value, *Site)) {
		if v, ok := f.get(key); ok {
			for _, item := range v.oneOrMore() {
				read(item, s)
			}
		}
	}
	each("stirring", r.stirring)
	each("aeration", r.aeration)
	each("lamps", r.lamp)
	if v, ok := f.get("buzzer"); ok {
		r.buzzer(v, s)
	}
	if v, ok := f.get("hands_in_button"); ok {
		s.HandsIn = v.fields().contact("pressed")
	}
	if v, ok := f.get("messages"); ok {
		r.messages(v, s)
	}
}

func (r *reader) stirring(v value, s *Site) {
	f := v.fields()
	st := Stirring{Output: r.outputRef(f, s, "output", Pump), BeforeFlood: f.time("before_flood")}
	if _, named := f.get("reservoir"); named || len(s.Reservoirs) > 1 {
		st.Reservoir = r.reservoirRef(f, s)
	} else if len(s.Reservoirs) == 0 {
		st.Reservoir = -1
	}
	s.Stirring = append(s.Stirring, st)
}

func (r *reader) aeration(v value, s *Site) {
	f := v.fields()
	a := Aeration{Output: r.outputRef(f, s, "output", Air), Always: plain(f, "always", yesNo)}
	_, from := f.get("from")
	_, to := f.get("to")
	switch {
	case a.Always && (from || to):
		v.errorf("always is true and hours are given: keep one of the two")
	case !a.Always && !(from && to) && r.sound(f.join("always")):
		v.errorf(`no hours: write always: true, or both from: "06:00" and to: "22:00"`)
	case !a.Always:
		a.From, a.To = plain(f, "from", timeOfDay), plain(f, "to", timeOfDay)
	}
	s.Aeration = append(s.Aeration, a)
}

func (r *reader) lamp(v value, s *Site) {
	f := v.fields()
	l := Lamp{Output: -1}
	if _, switched := f.get("output"); switched {
		l.Output = r.outputRef(f, s, "output", LampKind)
	}
	l.On, l.Off = plain(f, "on", timeOfDay), plain(f, "off", timeOfDay)
	l.Flux = plain(f, "flux", flux)
	s.Lamps = append(s.Lamps, l)
}

func (r *reader) buzzer(v value, s *Site) {
	f := v.fields()
	s.Buzzer = &Buzzer{Output: r.outputRef(f, s, "output", BuzzerKind), BeforeStart: f.time("before_start")}
}

// named reads a mapping from names to sections.
func (v value) named() []entry {
	var all []entry
	for _, e := range v.entries() {
		if _, err := name(e.key); err != nil {
			e.errorf("%v", err)
			continue
		}
		all = append(all, e)
	}
	if len(all) == 0 && v.node.Kind == yaml.MappingNode && len(v.node.Content) == 0 {
		v.errorf("empty: %s", v.hint())
	}
	return all
}

// refer reads a name and returns its index among names; -1, noted, when it is
// none of them. That there are no names at all was told at their section.
func (r *reader) refer(f fields, key string, names []string) int {
	v, ok := f.need(key)
	if !ok {
		return -1
	}
	text, ok := scalar(v, words)
	if !ok {
		return -1
	}
	if i := slices.Index(names, text); i >= 0 {
		return i
	}
	if len(names) == 0 && len(r.bad) > 0 {
		r.bad = append(r.bad, v.path)
		return -1
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
	i := r.refer(f, key, s.OutputNames())
	if i >= 0 && s.Outputs[i].Kind != kind && s.Outputs[i].Kind != "" {
		r.errorf(f.join(key), "%q: that output is of kind %s; an output of kind %s belongs here", s.Outputs[i].Name, s.Outputs[i].Kind, kind)
	}
	return i
}

// chosen reads one of the words that a key is described with.
func chosen[T ~string](f fields, key string) T {
	return plain(f, key, func(text string) (T, error) {
		known := f.section.child(key).Words
		if slices.Contains(known, text) {
			return T(text), nil
		}
		if meant, ok := f.section.child(key).Meant[strings.ToLower(text)]; ok {
			return "", fmt.Errorf("%q: did you mean %s?", text, meant)
		}
		other := f.section.child(key).Meant
		for _, begins := range slices.Backward(slices.Sorted(maps.Keys(other))) { // Raspberry Pi 5
			if len(begins) > 3 && strings.HasPrefix(strings.ToLower(text), begins) {
				return "", fmt.Errorf("%q: did you mean %s?", text, other[begins])
			}
		}
		return "", fmt.Errorf("%q: %s", text, suggest(text, known, "write ", "or"))
	})
}

func words(text string) (string, error) {
	if strings.TrimSpace(text) == "" {
		return "", fmt.Errorf("%q: nothing is written here", text)
	}
	return strings.TrimSpace(text), nil
}

// called reads what people are to read as a name.
func (f fields) called(key string) string {
	if v, ok := f.get(key); ok && v.node.Kind == yaml.ScalarNode {
		if err := texts.Line(v.node.Value, texts.Name); err != nil {
			v.errorf("%s: %v", texts.Short(v.node.Value), err)
			return ""
		}
	}
	return plain(f, key, words)
}

// title reads what people call the thing of a name.
func (f fields) title(titles *map[string]string, name string) {
	if _, given := f.get("title"); given {
		texts.Entitle(titles, name, f.called("title"))
	}
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

func degrees(text string) (float64, error) {
	d, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(d) || math.IsInf(d, 0) {
		return 0, fmt.Errorf("%q: write degrees as a number, such as 53.2 or -7.1", text)
	}
	return d, nil
}

func yesNo(text string) (bool, error) {
	switch strings.ToLower(text) {
	case "true":
		return true, nil
	case "false":
		return false, nil
	}
	switch strings.ToLower(text) {
	case "yes", "y", "on", "1":
		return false, fmt.Errorf("%q: did you mean true?", text)
	case "no", "n", "off", "0":
		return false, fmt.Errorf("%q: did you mean false?", text)
	}
	return false, fmt.Errorf("%q: write true or false", text)
}
