package config

import (
	"go.yaml.in/yaml/v3"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// pump reads what the pump brings: by its curve, or by the two figures of its label.
// With a curve the figures are those that it comes to.
func (f fields) pump(s *sheet.Supply) {
	v, given := f.get("curve")
	if !given {
		f.need("max_head")
		f.need("max_flow")
		s.MaxHead, s.MaxFlow = f.length("max_head"), f.flow("max_flow")
		return
	}
	for _, key := range []string{"max_head", "max_flow"} {
		if label, ok := f.get(key); ok {
			label.errorf("curve and %s: the curve says how high the pump lifts and how much it brings; keep one of the two", key)
		}
	}
	s.Curve = v.curve()
	if pump, err := s.Pump(); err == nil && f.r.sound(v.path) {
		s.MaxHead, s.MaxFlow = s.Curve[len(s.Curve)-1].Head, quantity.LitresPerHour(pump.MaxFlow().LitresPerHour())
	}
}

// mostPoints is more than the curve of a small pump has bends.
const mostPoints = 24

func (v value) curve() (points []sheet.CurvePoint) {
	items := v.items()
	for _, item := range items {
		if item.swapped() {
			continue
		}
		f := item.fields()
		points = append(points, sheet.CurvePoint{Head: f.length("head"), Flow: f.flow("flow")})
	}
	switch {
	case !v.r.sound(v.path):
	case len(points) < 2:
		v.errorf("%s: a curve wants two points at least: the flow without head, and the head without flow", counted(len(points), "point"))
	case len(points) > mostPoints:
		v.errorf("%d points: write %d at most, where the curve bends", len(points), mostPoints)
	case turned(points):
		v.errorf("the points stand from the greatest head down: write the one with the least head first")
	default:
		for i := range points[1:] {
			items[i+1].follows(points[i], points[i+1])
		}
	}
	return points
}

// swapped tells of a point whose head is a flow and whose flow is a head.
func (v value) swapped() bool {
	if v.node.Kind != yaml.MappingNode {
		return false
	}
	at := map[string]string{}
	for i := 0; i+1 < len(v.node.Content); i += 2 {
		at[v.node.Content[i].Value] = v.node.Content[i+1].Value
	}
	_, flow := quantity.ParseFlow(at["head"])
	_, head := quantity.ParseLength(at["flow"])
	if flow != nil || head != nil {
		return false
	}
	v.errorf("head and flow stand in each other's place: write {head: %s, flow: %s}", at["flow"], at["head"])
	return true
}

// turned reports whether all heads fall from point to point.
func turned(points []sheet.CurvePoint) bool {
	for i := range points[1:] {
		if points[i+1].Head >= points[i].Head {
			return false
		}
	}
	return true
}

// follows tells of a point that does not stand above the one before it, or brings no
// less.
func (v value) follows(before, p sheet.CurvePoint) {
	units := v.r.units
	switch {
	case p.Head == before.Head:
		v.r.errorf(v.path+".head", "%s: the point before it has that head already: leave one out", units.Head(p.Head))
	case p.Head < before.Head:
		v.r.errorf(v.path+".head", "%s: it stands after %s: put the points in order of head, the least first", units.Head(p.Head), units.Head(before.Head))
	case p.Flow >= before.Flow:
		v.r.errorf(v.path+".flow", "%s: no less than the %s at %s: a pump brings less the higher it lifts", units.Flow(p.Flow), units.Flow(before.Flow), units.Head(before.Head))
	}
}
