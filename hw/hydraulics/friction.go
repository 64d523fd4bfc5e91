package hydraulics

import (
	"cmp"
	"math"
)

// The edges of laminar and turbulent flow in a round pipe by Reynolds number.
const (
	LaminarBelow   = 2000.0
	TurbulentAbove = 4000.0
	reynoldsLimit  = 1e8
)

// Reynolds is the Reynolds number of flow at velocity v in a full pipe of inner
// diameter bore. Source: any text on fluid mechanics.
func Reynolds(v MetresPerSecond, bore Metres, nu SquareMetresPerSecond) (float64, error) {
	err := cmp.Or(positive("bore", float64(bore), "m"), positive("viscosity", float64(nu), "m²/s"))
	if err != nil {
		return 0, err
	}
	return math.Abs(float64(v)) * float64(bore) / float64(nu), nil
}

// Laminar is the Darcy friction factor 64/Re below Re 2000. Source: Poiseuille.
func Laminar(re float64) (float64, error) {
	if re <= 0 || re > LaminarBelow || math.IsNaN(re) {
		return 0, &rangeError{"Reynolds number", re, "", "above 0 to 2000"}
	}
	return 64 / re, nil
}

// SwameeJain is the explicit turbulent Darcy friction factor for Re 5e3 to 1e8
// (used down to 4e3, where it reads up to 2 % high) and ε/D up to 1e-2.
//
// Source: P. K. Swamee, A. K. Jain, J. Hydraulics Div. ASCE 102:657, 1976.
func SwameeJain(re, roughness float64) (float64, error) {
	err := cmp.Or(between("Reynolds number", re, TurbulentAbove, reynoldsLimit, ""),
		between("relative roughness", roughness, 0, 1e-2, ""))
	if err != nil {
		return 0, err
	}
	return swameeJain(re, roughness), nil
}

func swameeJain(re, roughness float64) float64 {
	l := math.Log10(roughness/3.7 + 5.74/math.Pow(re, 0.9))
	return 0.25 / (l * l)
}

// Colebrook is the turbulent Darcy friction factor, Re 4000 to 1e8, ε/D up to
// 0.05, solved to 1e-12 from the Swamee–Jain value.
//
// Source: C. F. Colebrook, J. Inst. Civil Eng. 11:133, 1939; D. Clamond, Ind.
// Eng. Chem. Res. 48:3665, 2009.
func Colebrook(re, roughness float64) (float64, error) {
	err := cmp.Or(between("Reynolds number", re, TurbulentAbove, reynoldsLimit, ""),
		between("relative roughness", roughness, 0, 0.05, ""))
	if err != nil {
		return 0, err
	}
	return colebrook(re, roughness), nil
}

// colebrook solves F(x) = x + 2 log10(a + b x) = 0 for x = 1/√f by Newton's
// rule. F is increasing and concave, and the start is within 2 %, so a handful of rounds
// reach the last digit.
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

// FrictionFactor is the Darcy friction factor for any flow up to Re 1e8 and ε/D
// up to 0.05: laminar below Re 2000, Colebrook above 4000. Between them flow
// may be either and no formula holds; the straight line between the two edges
// keeps the loss continuous and growing with flow (no source).
func FrictionFactor(re, roughness float64) (float64, error) {
	err := cmp.Or(positive("Reynolds number", re, ""), between("Reynolds number", re, 0, reynoldsLimit, ""),
		between("relative roughness", roughness, 0, 0.05, ""))
	if err != nil {
		return 0, err
	}
	return frictionFactor(re, roughness), nil
}

func frictionFactor(re, roughness float64) float64 {
	switch {
	case re <= LaminarBelow:
		return 64 / re
	case re >= TurbulentAbove:
		return colebrook(re, roughness)
	}
	low, high := 64/LaminarBelow, colebrook(TurbulentAbove, roughness)
	return low + (high-low)*(re-LaminarBelow)/(TurbulentAbove-LaminarBelow)
}
