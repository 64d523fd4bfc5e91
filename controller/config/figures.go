package config

import (
	"fmt"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/safety"
)

// figure is one line of a bench sheet: what, how much, and why.
type figure struct{ Of, Value, Because string }

// figures are those of bench i's water and pump.
func (s *Site) figures(i int) []figure {
	sh, res := &s.sheets[i], &s.Reservoirs[s.Benches[i].Reservoir]
	reasoned := func(of, value string) figure { return figure{of, value, sh.Because(of)} }
	volume := func(l float64) string { return s.Units.Volume(quantity.Litres(l)) }
	flow := func(q float64) string { return s.Units.Flow(quantity.LitresPerHour(q)) }
	depth := func(mm float64) string { return s.Units.Depth(quantity.Metres(mm / 1000)) }
	spanned := func(of, key string, value float64, words func(float64) string) figure {
		if span, known := sh.Spans[key]; known {
			return reasoned(of, fmt.Sprintf("%s (%s to %s)", words(value), words(span[0]), words(span[1])))
		}
		return reasoned(of, words(value))
	}
	most := reasoned("V_flood", "at most "+s.Units.Volume(sh.VFlood))
	if span, known := sh.Spans["v_flood_l"]; known {
		most.Value += fmt.Sprintf(" (%s to %s)", volume(span[0]), volume(span[1]))
		most.Because += "; in brackets, here and below, where nine floods in ten of such benches lie"
	}
	all := []figure{
		most,
		reasoned("bare flood", s.Units.Volume(sh.Bare)),
		spanned("T_fill", "t_fill_s", sh.Fill.Seconds(), duration),
		spanned("flow", "flow_l_per_h", float64(sh.Flow), flow),
		spanned("drawdown", "drawdown_mm", 1000*float64(sh.Drawdown), depth),
		spanned("end of fill", "end_flow_l_per_h", float64(sh.EndFlow), flow),
		spanned("T_fall", "t_fall_s", sh.Fall.Seconds(), duration),
		spanned("T_drain", "t_drain_s", sh.Drain.Seconds(), duration),
		spanned("T_over", "t_over_s", sh.Over.Seconds(), duration),
		spanned("overflow head", "overflow_head_mm", 1000*float64(sh.OverflowHead), depth),
		spanned("margin", "rim_margin_mm", 1000*float64(sh.Margin), depth),
		spanned("load", "load_kg_per_m2", sh.LoadPerSquareMetre, s.Units.Load),
		reasoned("pots' load", s.Units.Load(sh.PotsPerSquareMetre)),
		reasoned("overfill", map[bool]string{true: "possible", false: "impossible"}[sh.CanOverfill]),
		{"reservoir left", s.Units.Volume(sh.Left), fmt.Sprintf("%s; the intake needs the %s that are kept", sh.Because("reservoir left"), s.Units.Volume(res.Keep))},
		reasoned("top-up mark", s.Units.Volume(res.Usable)),
	}
	weighs := s.Weighing(i)
	all = append(all, figure{"weighs itself", weighs.short(), weighs.Words})
	if sh.Point == (sheet.Point{}) {
		return all
	}
	return append(all,
		reasoned("operating point", fmt.Sprintf("%s at %s", s.Units.Flow(sh.Point.Flow), s.Units.Head(sh.Point.Head))),
		reasoned("pump power", fmt.Sprintf("%.2g W", sh.Point.Power)),
		figure{"energy", fmt.Sprintf("%.2g Wh a day", s.energy(i)), fmt.Sprintf("the pump runs %s on the busiest day", quantity.Duration(s.dailyRun(i)/2))})
}

// duration is one that a person may read off a watch.
func duration(seconds float64) string {
	return quantity.Duration(time.Duration(seconds * float64(time.Second)).Round(time.Second))
}

// energy is what bench i's pump takes on the busiest day of its plans, in Wh.
func (s *Site) energy(i int) float64 {
	return s.sheets[i].Point.Power * (s.dailyRun(i) / 2).Hours()
}

// limitFigures are what the guard holds bench i to.
func (s *Site) limitFigures(i int) []figure {
	h := s.Held(i)
	all := []figure{
		{"max run", quantity.Duration(h.MaxRun), "of one flood"},
		{"min rest", quantity.Duration(h.MinRest), "between runs: T_drain and " + quantity.Duration(safety.RestMargin)},
	}
	if s.Benches[i].Full != nil {
		all = append(all,
			figure{"fill window", quantity.Duration(h.FillFrom) + " to " + quantity.Duration(h.FillBy), "FULL has to be made in it: " + untimed(s.Benches[i].Cycle.Fill, "half of T_fill to one and a half times it")},
			figure{"fall within", quantity.Duration(h.FallBy), "FULL has to clear in it: " + untimed(s.Benches[i].Cycle.Fall, "one and a half times T_fall") + ", at least " + quantity.Duration(safety.MinFallLimit)})
	}
	return append(all, figure{"daily run", quantity.Duration(h.Daily), "in any 24 h: twice the busiest day, or four runs"})
}

// untimed are the words for a window of which the time was not measured.
func untimed(measured time.Duration, window string) string {
	if measured > 0 {
		return window
	}
	return window + ", or wider by its span until the bench is timed"
}

// SpanInputs tells what the spans of a bench sheet come from.
func SpanInputs() string { return sheet.Inputs() }
