package sheet

import (
	"benchtide/controller/quantity"
	"benchtide/hw/hydraulics"
)

// Point is where the pump works while the flood stands.
type Point struct {
	Flow  quantity.LitresPerHour
	Head  quantity.Metres // lift, depth and what the hose loses
	Power float64         // W from the supply
}

// wireToWater is the share of the electrical power that a small pump gives to
// the water: 15 to 35 % (common practice, no source).
const wireToWater = 0.25

// operate finds where the pump works, by its label; zero where the label says
// that it lifts no water, which T_fill has told.
func (t tenancy) operate(w water, s *Sheet) error {
	peak := hydraulics.Metres(t.peak(s))
	down, known := t.Drawdown(t.water(t.peak(s)) + t.hose())
	if !known {
		down = 0
	}
	w = w.drawn(down)
	flow, err := w.supply.Flow(peak)
	if err != nil || flow == 0 {
		return err
	}
	head, err := w.supply.Pump.Head(flow)
	if err != nil {
		return err
	}
	given, err := hydraulics.HydraulicPower(flow, head, densityAt20)
	if err != nil {
		return err
	}
	taken, err := hydraulics.ElectricalPower(given, wireToWater)
	s.Point = Point{flowFrom(flow), quantity.Metres(head), float64(taken)}
	s.because("operating point", "%s of lift and depth and %s lost in the hose, on %s",
		t.Units.Head(t.Supply.Lift+down+quantity.Metres(peak)), t.Units.Head(quantity.Metres(head)-t.Supply.Lift-down-quantity.Metres(peak)), t.curve())
	s.because("pump power", "%.2g W into the water, and %.0f %% of what small pumps take gets there", float64(given), 100*wireToWater)
	return err
}

// curve is the one on which the pump works.
func (t tenancy) curve() string {
	if len(t.Supply.Curve) > 0 {
		return "the pump's curve"
	}
	return "the curve of the pump's label"
}

const densityAt20 = 998.2 // kg/m³

// reserve finds what a flood leaves in the reservoir, and how far it may be
// topped up.
func (t tenancy) reserve(_ water, s *Sheet) error {
	peak := t.peak(s)
	s.Bare = quantity.Litres(float64(t.area())*float64(peak)*1000) + t.hose()
	if t.Cycle.Free > 0 {
		s.Bare = quantity.Litres(t.Cycle.Free)*(s.Bare-t.hose()) + t.hose()
	}
	s.Margin = t.Table.Rim - peak
	s.Left = t.Usable - s.VFlood
	s.because("bare flood", "on a table without pots, with %s in the hose", t.Units.Volume(t.hose()))
	s.because("margin", "from %s of water up to the rim at %s, the standpipe carrying all that the pump brings", t.Units.Depth(peak), t.Units.Mark(t.Table.Rim))
	s.because("reservoir left", "%s filled to the mark less a whole flood of %s", t.Units.Volume(t.Usable), t.Units.Volume(s.VFlood))
	s.because("top-up mark", "with the tables empty; while a flood stands no higher than %s, since %s still come home", t.Units.Volume(s.Left), t.Units.Volume(s.VFlood))
	return nil
}
