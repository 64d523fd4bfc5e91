package hydraulics

import (
	"cmp"
	"math"
)

// StandpipeUncertainty is how far a standpipe's flow may be from the formula at
// a few millimetres of head, either way: the weir law was never tested on pipes
// and heads so small (USBR asks for 0.2 ft of head), the edge may be round, and
// a vortex or gulping in between weir and orifice is unsteady (Padulano et al.,
// Water 5:1380, 2013; Binnie, Proc. R. Soc. A 168:219, 1938). Calibrate.
const StandpipeUncertainty = 0.30

const (
	sharpWeir    = 1.84 // m^½/s, Francis' coefficient in SI (3.33 in feet)
	sharpOrifice = 0.6
)

// Weir is the flow over a sharp level edge of this length at head above it:
// Q = 1.84·L·h^1.5. Length is above 0 to 100 m, head from 0 to 1 m; below 60 mm
// of head see StandpipeUncertainty.
//
// Source: Francis' coefficient, USBR Water Measurement Manual ch. 7 (from memory).
func Weir(edge, head Metres) (CubicMetresPerSecond, error) {
	err := cmp.Or(positive("length of the edge", float64(edge), "m"), between("length of the edge", float64(edge), 0, 100, "m"),
		between("head over the edge", float64(head), 0, 1, "m"))
	if err != nil {
		return 0, err
	}
	return CubicMetresPerSecond(sharpWeir * float64(edge) * float64(head) * math.Sqrt(float64(head))), nil
}

// Standpipe is the open end of a vertical pipe in the table, at the crest.
type Standpipe struct {
	Bore Metres // inner diameter, above 0 to 1 m
}

// Flow over the crest at head above it, from 0 to 1 m: a circular weir
// Q = 1.84·π·D·h^1.5 while the head is small, an orifice Q = 0.6·(πD²/4)·√(2gh)
// when it drowns, whichever is less. See StandpipeUncertainty.
//
// Source: Francis' coefficient, USBR Water Measurement Manual ch. 7, and crest
// then orifice control, USBR Design of Small Dams (both from memory); orifice
// and transition, US EPA SWMM.
func (s Standpipe) Flow(head Metres) (CubicMetresPerSecond, error) {
	err := cmp.Or(s.check(), between("head over the crest", float64(head), 0, 1, "m"))
	if err != nil {
		return 0, err
	}
	return CubicMetresPerSecond(s.flow(float64(head))), nil
}

func (s Standpipe) flow(head float64) float64 {
	root := math.Sqrt(head)
	return min(s.weir()*head*root, s.orifice()*root)
}

func (s Standpipe) weir() float64 { return sharpWeir * math.Pi * float64(s.Bore) }

func (s Standpipe) orifice() float64 {
	return sharpOrifice * float64(s.Bore.Bore()) * math.Sqrt(2*Gravity)
}

// Head over the crest that carries flow q away, the inverse of Flow.
func (s Standpipe) Head(q CubicMetresPerSecond) (Metres, error) {
	if err := cmp.Or(s.check(), between("flow", float64(q), 0, 10, "m³/s")); err != nil {
		return 0, err
	}
	asWeir := math.Pow(float64(q)/s.weir(), 2.0/3)
	asOrifice := math.Pow(float64(q)/s.orifice(), 2)
	return Metres(max(asWeir, asOrifice)), nil
}

func (s Standpipe) check() error {
	return cmp.Or(positive("standpipe bore", float64(s.Bore), "m"), between("standpipe bore", float64(s.Bore), 0, 1, "m"))
}

// SelfVentingFroude is the Froude number V/√(gD), V taken as if the pipe ran
// full, below which a falling pipe passes air beside the water and does not
// gulp. Source: P. D. Hills, "Designing piping for gravity flow", Chem. Eng. 1983.
const SelfVentingFroude = 0.3

// SelfVenting is the greatest flow that a falling pipe of bore takes without
// gulping, by SelfVentingFroude.
func SelfVenting(bore Metres) (CubicMetresPerSecond, error) {
	if err := positive("bore", float64(bore), "m"); err != nil {
		return 0, err
	}
	return CubicMetresPerSecond(SelfVentingFroude * math.Sqrt(Gravity*float64(bore)) * float64(bore.Bore())), nil
}
