package hydraulics

import "math"

// The edges of laminar and turbulent flow in a round pipe by Reynolds number.
const (
	laminarBelow   = 2000.0
	turbulentAbove = 4000.0
)

// swameeJain is the explicit turbulent Darcy friction factor for Re 5e3 to 1e8
// (used down to 4e3, where it reads up to 2 % high) and ε/D up to 1e-2.
//
// Source: P. K. Swamee, A. K. Jain, J. Hydraulics Div. ASCE 102:657, 1976.
func swameeJain(re, roughness float64) float64 {
	l := math.Log10(roughness/3.7 + 5.74/math.Pow(re, 0.9))
	return 0.25 / (l * l)
}

// colebrook is the turbulent Darcy friction factor, Re 4000 to 1e8, ε/D up to
// 0.05. It solves F(x) = x + 2 log10(a + b x) = 0 for x = 1/√f by Newton's rule.
// F is increasing and concave, and swameeJain's value, where it starts, is within
// 2 %, so a handful of rounds reach the last digit.
//
// Source: C. F. Colebrook, J. Inst. Civil Eng. 11:133, 1939; D. Clamond, Ind.
// Eng. Chem. Res. 48:3665, 2009.
func colebrook(re, roughness float64) float64 {
	a, b := roughness/3.7, 2.51/re
	x := 1 / math.Sqrt(swameeJain(re, roughness))
	for range 8 {
		arg := a + b*x
		step := (x + 2*math.Log10(arg)) / (1 + 2/math.Ln10*b/arg)
		x -= step
		if math.Abs(step) < 1e-12*x {
			break
		}
	}
	return 1 / (x * x)
}

// frictionFactor is the Darcy friction factor for any flow above Re 0 up to 1e8
// and ε/D up to 0.05: Poiseuille's 64/Re below Re 2000, colebrook above 4000.
// Between them flow may be either and no formula holds; the straight line between
// the two edges keeps the loss continuous and growing with flow (no source).
func frictionFactor(re, roughness float64) float64 {
	switch {
	case re <= laminarBelow:
		return 64 / re
	case re >= turbulentAbove:
		return colebrook(re, roughness)
	}
	low, high := 64/laminarBelow, colebrook(turbulentAbove, roughness)
	return low + (high-low)*(re-laminarBelow)/(turbulentAbove-laminarBelow)
}
