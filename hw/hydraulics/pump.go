package hydraulics

import (
	"cmp"
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
