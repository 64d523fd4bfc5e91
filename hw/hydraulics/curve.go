package hydraulics

import (
	"cmp"
	"fmt"
	"slices"
)

// Curve is the pump of a data sheet: straight from point to point, the points in
// order of head, each with less flow than the one before. Below the head of the
// first point it goes on as between the first two; above that of the last nobody
// knows, so that the pump lifts nothing.
//
// Source: the points; between them an assumption that errs towards less flow, as
// curves of small pumps are bent outwards.
func Curve(points ...PumpPoint) (Pump, error) {
	if len(points) < 2 {
		return Pump{}, fmt.Errorf("pump curve from %d points: give two at least", len(points))
	}
	for i, p := range points {
		if err := cmp.Or(between("flow of a point", float64(p.Flow), 0, 1e3, "m³/s"), between("head of a point", float64(p.Head), 0, 1e3, "m")); err != nil {
			return Pump{}, err
		}
		if i > 0 && (p.Head <= points[i-1].Head || p.Flow >= points[i-1].Flow) {
			return Pump{}, fmt.Errorf("pump curve: point %d has %.3g m, after %.3g m: flow must fall where head rises", i+1, p.Head, points[i-1].Head)
		}
	}
	return Pump{shutOff: float64(points[len(points)-1].Head), points: slices.Clone(points)}, nil
}

// along returns the two points between which something is, the first two where it
// is before both.
func along(points []PumpPoint, is func(PumpPoint) bool) (a, b PumpPoint) {
	i := max(1, slices.IndexFunc(points, is))
	return points[i-1], points[i]
}

// onCurve is the head at flow q: that of the last point where the flow is less.
func (p Pump) onCurve(q float64) float64 {
	if last := p.points[len(p.points)-1]; q <= float64(last.Flow) {
		return float64(last.Head)
	}
	a, b := along(p.points, func(x PumpPoint) bool { return float64(x.Flow) <= q })
	return float64(b.Head) + (q-float64(b.Flow))*float64(a.Head-b.Head)/float64(a.Flow-b.Flow)
}

// flowOnCurve is the flow at a head below that of the last point.
func (p Pump) flowOnCurve(head float64) float64 {
	a, b := along(p.points, func(x PumpPoint) bool { return float64(x.Head) >= head })
	return float64(b.Flow) + (head-float64(b.Head))*float64(a.Flow-b.Flow)/float64(a.Head-b.Head)
}
