package hydraulics

import (
	"cmp"
	"math"
)

// SmoothWall is the roughness of plastic hose and drawn tubing. Source: handbook
// practice (lmnoeng.com roughness table gives "smooth"; 1.5 µm is drawn tubing).
const SmoothWall Metres = 1.5e-6

// Pipe is a round pipe or hose running full.
type Pipe struct {
	Bore      Metres  // inner diameter
	Length    Metres  // along the pipe
	Roughness Metres  // of the wall; SmoothWall for plastic
	Minor     float64 // sum of K of its fittings, see MinorLoss

	// Friction is the Darcy friction factor where it is held to that of one flow,
	// see Held; 0 lets each flow have its own.
	Friction float64
}

// check says whether the pipe makes sense for the formulae here.
func (p Pipe) check(nu SquareMetresPerSecond) error {
	return cmp.Or(positive("bore", float64(p.Bore), "m"),
		between("pipe length", float64(p.Length), 0, 1e5, "m"),
		between("sum of minor losses", p.Minor, 0, 1e6, ""),
		between("relative roughness", float64(p.Roughness/p.Bore), 0, 0.05, ""),
		positive("viscosity", float64(nu), "m²/s"))
}

func (p Pipe) reynolds(q, nu float64) float64 {
	return q / float64(p.Bore.Bore()) * float64(p.Bore) / nu
}

// headLoss is the head lost to friction and fittings at flow q in m³/s, in
// metres of water, h = (f·L/D + ΣK)·V²/2g, for Re up to 1e8.
//
// Source: Darcy–Weisbach with frictionFactor; any text on fluid mechanics.
func (p Pipe) headLoss(q, nu float64) float64 {
	if q <= 0 {
		return 0
	}
	f := p.Friction
	if f == 0 {
		f = frictionFactor(p.reynolds(q, nu), float64(p.Roughness/p.Bore))
	}
	return p.resistance(f) * q * q
}

// resistance is the head lost over the square of the flow in m³/s, at a friction factor.
func (p Pipe) resistance(f float64) float64 {
	a := float64(p.Bore.Bore())
	return (f*float64(p.Length/p.Bore) + p.Minor) / (a * a * 2 * Gravity)
}

// Held is the pipe with the friction factor of flow q at every flow: what many flows
// near q are found with quickly. In turbulent flow the factor falls with the fourth root
// of the flow at most (Blasius), so that a flow half as large again is given a friction
// 11 % too high.
func (p Pipe) Held(q CubicMetresPerSecond, nu SquareMetresPerSecond) Pipe {
	if re := p.reynolds(float64(q), float64(nu)); re > 0 {
		p.Friction = frictionFactor(re, float64(p.Roughness/p.Bore))
	}
	return p
}

// FlowUnder is the flow that head drives through the pipe running full, the
// inverse of headLoss to 1e-9. All of head is spent on friction and fittings,
// so a free outfall needs an Exit among them.
func (p Pipe) FlowUnder(head Metres, nu SquareMetresPerSecond) (CubicMetresPerSecond, error) {
	if err := cmp.Or(p.check(nu), between("head", float64(head), 0, 1e3, "m")); err != nil {
		return 0, err
	}
	if p.Minor == 0 && p.Length == 0 {
		return 0, &rangeError{"resistance of the pipe", 0, "", "it must have a length or fittings"}
	}
	return CubicMetresPerSecond(falling(p.frictionless(head), func(q float64) float64 {
		return float64(head) - p.headLoss(q, float64(nu))
	})), nil
}

// frictionless is a flow that no pipe of this bore passes under head: with
// the least loss that a length or a fitting here can have.
func (p Pipe) frictionless(head Metres) float64 {
	least := p.Minor + 0.005*float64(p.Length/p.Bore) // f ≥ 0.0055 at Re 1e8
	return float64(p.Bore.Bore()) * math.Sqrt(2*Gravity*float64(head)/least)
}

// falling finds where a decreasing function crosses zero in [0, high], to a part
// in 10¹⁵ of high. Each round halves the bracket at least, and near the crossing
// doubles the digits of a loss of head, which is no steeper than the square of
// the flow.
//
// Source: C. J. F. Ridders, IEEE Trans. Circuits Syst. 26:979, 1979.
func falling(high float64, f func(float64) float64) float64 {
	low, enough := 0.0, 1e-15*high
	above, below := f(low), f(high)
	switch {
	case above <= 0:
		return low
	case below >= 0:
		return high
	}
	for last := high; high-low > enough; {
		mid := (low + high) / 2
		middle := f(mid)
		x := mid + (mid-low)*middle/math.Sqrt(middle*middle-above*below)
		y := f(x)
		if y == 0 || math.Abs(x-last) <= enough {
			return x
		}
		last = x
		for _, p := range [...]struct{ x, y float64 }{{mid, middle}, {x, y}} {
			switch {
			case p.y > 0 && p.x > low:
				low, above = p.x, p.y
			case p.y <= 0 && p.x < high:
				high, below = p.x, p.y
			}
		}
	}
	return (low + high) / 2
}
