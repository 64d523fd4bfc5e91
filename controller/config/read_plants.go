package config

import (
	"fmt"
	"strconv"
	"strings"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

func (r *reader) plans(v value, s *Site) {
	const right = `a list of stages: - {from_day: 0, flood_at: ["09:00"], hold: 4 min, strength: 25 %, can_wait: 48 h}`
	for _, e := range v.named("give at least one plan, " + right) {
		p := schedule.Plan{Name: e.key}
		for _, stage := range e.items("a plan is " + right) {
			p.Stages = append(p.Stages, stage.stage())
		}
		if len(p.Stages) == 0 && r.sound(e.path) {
			e.errorf("no stages: a plan is %s", right)
		}
		s.Plans = append(s.Plans, p)
	}
}

func (v value) stage() schedule.Stage {
	f := v.fields("from_day", "flood_at", "cron", "floods", "hold", "strength", "can_wait")
	st := schedule.Stage{
		FromDay:  need(f, "from_day", "the age of the plants in days since transplant, 0 or more", days),
		Hold:     need(f, "hold", "how long the water stands, such as 4 min", someTime),
		Strength: float64(need(f, "strength", "of the solution, such as 25 %", share)),
		CanWait:  need(f, "can_wait", "how long these plants can go without a flood, such as 48 h", someTime),
	}
	var ways []string
	for _, key := range []string{"flood_at", "cron", "floods"} {
		if w, ok := f.get(key); ok {
			ways = append(ways, key)
			w.when(key, &st)
		}
	}
	const right = `flood_at: ["08:30", "15:00"], cron: "0 8-17/3 * * *" or floods: 4`
	switch {
	case len(ways) == 0:
		v.errorf("missing when to flood: write one of %s", right)
	case len(ways) > 1:
		v.errorf("%s: say when to flood in one way only", strings.Join(ways, " and "))
	}
	return st
}

func (v value) when(key string, st *schedule.Stage) {
	switch key {
	case "flood_at":
		for _, at := range v.oneOrMore(`a list of times, such as ["08:30", "15:00"]`) {
			t, _ := scalar(at, `a time of day, such as "09:00"`, schedule.ParseTimeOfDay)
			st.At = append(st.At, t)
		}
		if len(st.At) == 0 {
			v.errorf(`no times: write at least one, such as ["09:00"]`)
		}
	case "cron":
		st.Cron, _ = scalar(v, `an expression such as "0 8-17/3 * * *"`, schedule.ParseCron)
	case "floods":
		st.Spread, _ = scalar(v, "how many floods over the light hours, such as 4", spread)
	}
}

func (r *reader) batches(v value, s *Site) {
	plans := namesOf(s.Plans, func(p schedule.Plan) string { return p.Name })
	benches := namesOf(s.Benches, func(b Bench) string { return b.Name })
	lines := map[string]string{}
	for _, item := range v.items("a list of batches: - {name: basil_spring, plan: basil, bench: north, transplanted: 2026-03-02, pots: 96, pot: {top: 9 cm, volume: 0.35 L}}") {
		f := item.fields("name", "plan", "bench", "transplanted", "closed", "pots", "pot", "substrate", "crop", "covered_on_day", "spread", "advance")
		b := Batch{Substrate: maybe(f, "substrate", "name what fills the pots, such as peat", substrate, substrates[0])}
		b.Name = need(f, "name", "name the batch", name)
		b.Plan = r.refer(f, "plan", "name one of the plans", plans)
		b.Bench = r.refer(f, "bench", "name one of the benches", benches)
		b.Transplanted = need(f, "transplanted", "the day it was transplanted, such as 2026-03-02", schedule.ParseDate)
		b.Closed = maybe(f, "closed", "the last day on the bench, such as 2026-05-30", schedule.ParseDate, 0)
		b.Pots = f.pots(b.Substrate)
		b.Crop = maybe(f, "crop", "name what grows, such as leafy", crop, demand.LeafyYoung)
		b.Crop.Days = maybe(f, "covered_on_day", "the age in days at which leaves cover the bench, such as 42", days, b.Crop.Days)
		b.Spread = maybe(f, "spread", "how wide one plant grows, such as 17 cm", someLength, 0)
		b.Asked = maybe(f, "advance", "how it enters a stage: auto, by its age, or asked, when a person says so", asked, false)
		if first, doubled := lines[b.Name]; doubled && b.Name != "" {
			r.errorf(f.join("name"), "%q: batch %s has that name already; give each its own", b.Name, first)
		}
		lines[b.Name] = item.path[strings.LastIndexByte(item.path, '.')+1:]
		s.Batches = append(s.Batches, b)
	}
}

func (f fields) pots(in Substrate) sheet.Pots {
	p := sheet.Pots{Count: need(f, "pots", "how many pots there are, such as 96", count), Capacity: in.Capacity}
	if v, ok := f.need("pot", "one pot: {top: 9 cm, volume: 0.35 L}"); ok {
		g := v.fields("top", "volume")
		p.Top = need(g, "top", "the diameter of its rim, such as 9 cm", someLength)
		p.Volume = need(g, "volume", "of one pot, such as 0.35 L", someVolume)
	}
	return p
}

func substrate(text string) (Substrate, error) {
	var known []string
	for _, s := range substrates {
		if s.Name == text {
			return s, nil
		}
		known = append(known, s.Name)
	}
	return Substrate{}, fmt.Errorf("%q: %s", text, suggest(text, known, "there are ", "and"))
}

func asked(text string) (bool, error) {
	if text != "auto" && text != "asked" {
		return false, fmt.Errorf("%q: write auto or asked", text)
	}
	return text == "asked", nil
}

func share(text string) (quantity.Fraction, error) {
	q, err := quantity.ParseFraction(text)
	if err == nil && q > 1 {
		return 0, fmt.Errorf("%q: full strength is 100 %%", text)
	}
	return q, err
}

// longest is the most days that a date or an age may lie apart from another.
const longest = 3650

func days(text string) (int, error) { return whole(text, 0, longest) }

func count(text string) (int, error) { return whole(text, 1, 1e6) }

func spread(text string) (int, error) { return whole(text, 1, 24) }

func whole(text string, low, high int) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		return 0, fmt.Errorf("%q: write a whole number from %d to %d", text, low, high)
	}
	return n, nil
}
