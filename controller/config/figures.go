package config

import (
	"fmt"

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
	all := []figure{
		reasoned("V_flood", s.Units.Volume(sh.VFlood)),
		reasoned("bare flood", s.Units.Volume(sh.Bare)),
		reasoned("T_fill", quantity.Duration(sh.Fill)),
		reasoned("drawdown", s.Units.Depth(sh.Drawdown)),
		reasoned("end of fill", s.Units.Flow(sh.EndFlow)),
		reasoned("T_fall", quantity.Duration(sh.Fall)),
		reasoned("T_drain", quantity.Duration(sh.Drain)),
		reasoned("T_over", quantity.Duration(sh.Over)),
		reasoned("overflow head", s.Units.Depth(sh.OverflowHead)),
		reasoned("margin", s.Units.Depth(sh.Margin)),
		reasoned("load", s.Units.Load(sh.LoadPerSquareMetre)),
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
			figure{"fill window", quantity.Duration(h.FillFrom) + " to " + quantity.Duration(h.FillBy), "FULL has to be made in it: half of T_fill to one and a half times it"},
			figure{"fall within", quantity.Duration(h.FallBy), "FULL has to clear in it: one and a half times T_fall, at least " + quantity.Duration(safety.MinFallLimit)})
	}
	return append(all, figure{"daily run", quantity.Duration(h.Daily), "in any 24 h: twice the busiest day, or four runs"})
}
