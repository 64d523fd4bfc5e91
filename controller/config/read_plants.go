package config

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/schedule"
)

func (r *reader) plans(v value, s *Site) {
	for _, e := range v.named() {
		p := schedule.Plan{Name: e.key}
		stages, ok := e.stages(&s.Titles.Plans)
		for _, stage := range stages {
			p.Stages = append(p.Stages, stage.stage())
		}
		if ok && len(p.Stages) == 0 && r.sound(e.path) {
			e.errorf("no stages: write %s", described.at("plans.NAME.stages").hint(r.units))
		}
		s.Plans = append(s.Plans, p)
	}
}

// stages are those of a plan, which is their list, or a section with a title and
// that list. A stage has the same path either way.
func (e entry) stages(titles *map[string]string) (all []value, ok bool) {
	list := e.value
	if e.has("title") || e.has("stages") {
		f := e.fields()
		f.title(titles, e.key)
		if list, ok = f.need("stages"); !ok {
			return nil, false
		}
		list.key() // is read
		list.path = e.path
	}
	return list.items(), true
}

// has reports whether a section has a key.
func (v value) has(key string) bool {
	return v.node.Kind == yaml.MappingNode && slices.ContainsFunc(v.node.Content, func(n *yaml.Node) bool { return n.Value == key })
}

func (v value) stage() schedule.Stage {
	f := v.fields()
	st := schedule.Stage{
		FromDay:  ranged(f, "from_day", whole),
		Hold:     f.time("hold"),
		Strength: float64(ranged(f, "strength", quantity.ParseFraction)),
		CanWait:  f.time("can_wait"),
	}
	var ways []string
	for _, key := range f.section.One {
		if w, ok := f.get(key); ok {
			ways = append(ways, key)
			f.when(key, w, &st)
		}
	}
	const right = `flood_at: ["08:30", "15:00"], cron: "0 8-17/3 * * *" or floods: 4`
	switch {
	case len(ways) == 0:
		v.errorf("missing when to flood: write one of %s", right)
	case len(ways) > 1:
		v.errorf("%s: say when to flood in one way only", strings.Join(ways, " and "))
	}
	st.Every = ranged(f, "every", wholeDays)
	if w, given := f.get("every"); given && slices.Contains(ways, "cron") {
		w.errorf("every and cron: the cron expression says itself on which days it floods; keep one of the two, or write flood_at in place of cron")
	}
	if st.Every == 1 { // as without it
		st.Every = 0
	}
	return st
}

var days = regexp.MustCompile(`^\s*([0-9]+)\s*(?:d|day|days)\s*$`)

// wholeDays reads a number of days of the calendar.
func wholeDays(text string) (int, error) {
	if m := days.FindStringSubmatch(strings.ToLower(text)); m != nil {
		if n, err := strconv.Atoi(m[1]); err == nil {
			return n, nil
		}
	}
	lasts, err := quantity.ParseDuration(text)
	n, bare := whole(strings.TrimSpace(text))
	switch {
	case err == nil && lasts > 0 && lasts%quantity.Day == 0:
		return 0, fmt.Errorf("%q: it counts days of the calendar: write %d d", text, lasts/quantity.Day)
	case err == nil:
		return 0, fmt.Errorf("%q: it counts whole days of the calendar, such as 2 d", text)
	case bare == nil && n > 0:
		return 0, fmt.Errorf("%q: it wants its unit: write %d d", text, n)
	}
	return 0, fmt.Errorf("%q: write a number of days, such as 2 d for every second day", text)
}

func (f fields) when(key string, v value, st *schedule.Stage) {
	switch key {
	case "flood_at":
		for _, at := range v.oneOrMore() {
			t, _ := scalar(at, timeOfDay)
			st.At = append(st.At, t)
		}
		if len(st.At) == 0 {
			v.errorf(`no times: write at least one, such as ["09:00"]`)
		}
	case "cron":
		st.Cron = plain(f, key, schedule.ParseCron)
	case "floods":
		st.Spread = ranged(f, key, whole)
	}
}

func (r *reader) batches(v value, s *Site) {
	plans := namesOf(s.Plans, func(p schedule.Plan) string { return p.Name })
	lines := map[string]string{}
	for _, item := range v.items() {
		f := item.fields()
		b := Batch{Substrate: substrateOf(chosen[string](f, "substrate"))}
		b.Name = plain(f, "name", name)
		f.title(&s.Titles.Batches, b.Name)
		b.Plan = r.refer(f, "plan", plans)
		b.Bench = r.refer(f, "bench", s.BenchNames())
		b.Closed = plain(f, "closed", date)
		f.begins(&b)
		b.Pots = f.pots(b.Substrate)
		b.CropName = chosen[string](f, "crop")
		b.Crop = crops[b.CropName]
		if _, given := f.get("covered_on_day"); given {
			b.Crop.Days = ranged(f, "covered_on_day", whole)
		}
		b.Spread = f.length("spread")
		b.Asked = chosen[string](f, "advance") == "asked"
		if first, doubled := lines[b.Name]; doubled && b.Name != "" {
			r.errorf(f.join("name"), "%q: batch %s has that name already; give each its own", b.Name, first)
		}
		lines[b.Name] = item.path[strings.LastIndexByte(item.path, '.')+1:]
		s.Batches = append(s.Batches, b)
	}
}

// begins reads when the plants were sown and transplanted. Ages count from the day
// they came onto the bench: that of the transplant, or without one of sowing.
func (f fields) begins(b *Batch) {
	b.Transplanted, b.Sown = plain(f, "transplanted", date), plain(f, "sown", date)
	_, transplanted := f.get("transplanted")
	_, sown := f.get("sown")
	switch {
	case transplanted:
	case sown:
		b.Transplanted = b.Sown
	case f.node.Kind == yaml.MappingNode && !f.slipped["transplanted"] && !f.slipped["sown"]:
		f.r.note(f.r.positionOf(f.path), f.join("transplanted"), false, "missing: %s; where plants stay in the pots they were sown in, write sown", f.section.child("transplanted").hint(f.r.units))
	}
}

func (f fields) pots(in Substrate) sheet.Pots {
	p := sheet.Pots{Count: ranged(f, "pots", whole)}
	if v, ok := f.need("pot"); ok {
		g := v.fields()
		p.Top, p.Volume = g.length("top"), g.volume("volume")
	}
	p.Capacity = quantity.Fraction(max(in.Water, in.holds(p))) // a sheet states bounds, which are no lower for tall pots
	return p
}

// substrateOf is what goes by a name; the first one for a name that was refused.
func substrateOf(name string) Substrate {
	return substrates[max(0, slices.IndexFunc(substrates, func(s Substrate) bool { return s.Name == name }))]
}

// longest is the most days that a date or an age may lie apart from another.
const (
	longest     = 3650
	longestText = "3650"
)

func whole(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, fmt.Errorf("%q: write a whole number, such as 42", text)
	}
	return n, nil
}
