package hydraulics

import (
	"cmp"
	"fmt"
	"math"
)

// Pump is a centrifugal pump's curve H = H₀ − a·Q − b·Q², falling with flow.
// Its zero value is no pump; make one with Nameplate, Straight, Measured or Curve.
type Pump struct {
	shutOff float64 // H₀, m
	linear  float64 // a, m per m³/s
	square  float64 // b, m per (m³/s)²

	points []PumpPoint // of a data sheet, in place of a and b
}

// PumpPoint is one point of a measured curve.
type PumpPoint struct {
	Flow CubicMetresPerSecond
	Head Metres
}

// Nameplate is the quadratic curve through the two figures on a pump's label:
// the greatest head (at no flow) and the greatest flow (at no head). Source: the
// standard approximation; real small pumps lie between it and Straight.
func Nameplate(maxHead Metres, maxFlow CubicMetresPerSecond) (Pump, error) {
	if err := label(maxHead, maxFlow); err != nil {
		return Pump{}, err
	}
	return Pump{shutOff: float64(maxHead), square: float64(maxHead) / float64(maxFlow*maxFlow)}, nil
}

// Straight is the straight line through the same two figures, the pessimist's
// curve for a weak pump.
func Straight(maxHead Metres, maxFlow CubicMetresPerSecond) (Pump, error) {
	if err := label(maxHead, maxFlow); err != nil {
		return Pump{}, err
	}
	return Pump{shutOff: float64(maxHead), linear: float64(maxHead) / float64(maxFlow)}, nil
}

// Between is a curve between Nameplate, at a share of 0, and Straight, at 1, as real
// small pumps have it.
func Between(maxHead Metres, maxFlow CubicMetresPerSecond, share float64) (Pump, error) {
	if err := cmp.Or(label(maxHead, maxFlow), between("share of the straight line", share, 0, 1, "")); err != nil {
		return Pump{}, err
	}
	head, flow := float64(maxHead), float64(maxFlow)
	return Pump{shutOff: head, linear: share * head / flow, square: (1 - share) * head / (flow * flow)}, nil
}

func label(maxHead Metres, maxFlow CubicMetresPerSecond) error {
	return cmp.Or(positive("pump's greatest head", float64(maxHead), "m"),
		positive("pump's greatest flow", float64(maxFlow), "m³/s"))
}

// Measured is the curve through measured points: through two of them
// H₀ − b·Q² exactly, through three or more the least squares of
// H₀ − a·Q − b·Q². Points that do not give a falling curve over their range are
// an error.
func Measured(points ...PumpPoint) (Pump, error) {
	if len(points) < 2 {
		return Pump{}, fmt.Errorf("pump curve from %d points: measure at two different flows at least", len(points))
	}
	var top float64
	for _, p := range points {
		if err := cmp.Or(between("measured flow", float64(p.Flow), 0, 1e3, "m³/s"), between("measured head", float64(p.Head), 0, 1e3, "m")); err != nil {
			return Pump{}, err
		}
		top = max(top, float64(p.Flow))
	}
	pump := fit(points, top)
	if !pump.falls(top) {
		return Pump{}, fmt.Errorf("pump curve from %d points: head must fall with flow; measure again at flows further apart", len(points))
	}
	return pump, nil
}

// fit works in flow over top, so that the normal equations stay well scaled.
func fit(points []PumpPoint, top float64) Pump {
	if len(points) == 2 {
		x0, x1 := float64(points[0].Flow)/top, float64(points[1].Flow)/top
		h0, h1 := float64(points[0].Head), float64(points[1].Head)
		b := (h0 - h1) / (x1*x1 - x0*x0)
		return Pump{shutOff: h0 + b*x0*x0, square: b / (top * top)}
	}
	var s [5]float64 // sums of x⁰…x⁴
	var t [3]float64 // sums of x⁰h…x²h
	for _, p := range points {
		power := 1.0
		for i := range s {
			s[i] += power
			if i < len(t) {
				t[i] += power * float64(p.Head)
			}
			power *= float64(p.Flow) / top
		}
	}
	det := det3(s[0], s[1], s[2], s[1], s[2], s[3], s[2], s[3], s[4])
	c0 := det3(t[0], s[1], s[2], t[1], s[2], s[3], t[2], s[3], s[4]) / det
	c1 := det3(s[0], t[0], s[2], s[1], t[1], s[3], s[2], t[2], s[4]) / det
	c2 := det3(s[0], s[1], t[0], s[1], s[2], t[1], s[2], s[3], t[2]) / det
	return Pump{shutOff: c0, linear: -c1 / top, square: -c2 / (top * top)}
}

func det3(a, b, c, d, e, f, g, h, i float64) float64 {
	return a*(e*i-f*h) - b*(d*i-f*g) + c*(d*h-e*g)
}

// falls says whether head falls over all flows up to top, measurement noise at
// no flow allowed for.
func (p Pump) falls(top float64) bool {
	slopeStart, slopeEnd := -p.linear, -p.linear-2*p.square*top
	return p.shutOff > 0 && !math.IsInf(p.shutOff, 1) && slopeEnd < 0 && slopeStart*top <= 0.02*p.shutOff
}

// MaxFlow is the flow at no head; 0 for no pump.
func (p Pump) MaxFlow() CubicMetresPerSecond { return CubicMetresPerSecond(p.flow(p.shutOff, 0)) }

// Head at flow q, from 0 to MaxFlow.
func (p Pump) Head(q CubicMetresPerSecond) (Metres, error) {
	// A hair above MaxFlow is rounding, not a mistake.
	if err := between("pump flow", float64(q), 0, float64(p.MaxFlow())*(1+1e-9), "m³/s"); err != nil {
		return 0, err
	}
	return Metres(p.head(float64(q))), nil
}

func (p Pump) head(q float64) float64 {
	if p.points != nil {
		return p.onCurve(q)
	}
	return p.shutOff - q*(p.linear+q*p.square)
}

// flow solves shutOff − spent = a·Q + (b + r)·Q² for the head spent on the pump
// itself and on a resistance r.
func (p Pump) flow(available, r float64) float64 {
	if available <= 0 {
		return 0
	}
	if p.points != nil {
		static := p.shutOff - available
		return falling(p.flowOnCurve(static), func(q float64) float64 { return p.onCurve(q) - static - r*q*q })
	}
	square := p.square + r
	return 2 * available / (p.linear + math.Sqrt(p.linear*p.linear+4*square*available))
}

func (p Pump) known() error {
	return positive("pump's shut-off head", p.shutOff, "m")
}
