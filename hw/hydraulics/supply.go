package hydraulics

import (
	"cmp"
	"fmt"
	"math"
	"time"
)

// Supply is what fills a table: a pump, its hose, and the lift from the surface
// of the reservoir to the floor of the table.
type Supply struct {
	Pump      Pump
	Hose      Pipe
	Lift      Metres
	Viscosity SquareMetresPerSecond // of the solution; see Viscosity and ViscosityAt20
}

// Flow into the table at depth, where the hose ends under water, so that the
// pump works against Lift + depth and the hose. Depth is from 0 to 10 m; no flow
// means that the pump cannot lift so high.
func (s Supply) Flow(depth Metres) (CubicMetresPerSecond, error) {
	err := cmp.Or(s.Pump.known(), s.Hose.check(s.Viscosity),
		between("lift", float64(s.Lift), -10, 100, "m"), between("depth", float64(depth), 0, 10, "m"))
	if err != nil {
		return 0, err
	}
	return CubicMetresPerSecond(s.flow(float64(depth))), nil
}

func (s Supply) flow(depth float64) float64 {
	static := float64(s.Lift) + depth
	return falling(s.Pump.flow(s.Pump.shutOff-static, 0), func(q float64) float64 {
		return s.Pump.head(q) - static - s.Hose.headLoss(q, float64(s.Viscosity))
	})
}

// FillTime is how long the supply takes to raise a table of a constant free
// area from bare to depth, the lift rising with the water; pots, overflow and
// what the pots drink are not in it. It is an error when the pump cannot reach
// depth.
//
// Source: derived from A·dy/dt = Q(y); for a quadratic curve without hose it is
// t = (2·A·H₀/Qmax)·(√(1−Hs/H₀) − √(1−(Hs+d)/H₀)).
func (s Supply) FillTime(area SquareMetres, depth Metres) (time.Duration, error) {
	if err := cmp.Or(positive("table area", float64(area), "m²"), positive("depth", float64(depth), "m")); err != nil {
		return 0, err
	}
	last, err := s.Flow(depth)
	if err != nil {
		return 0, err
	}
	if last <= 0 {
		return 0, fmt.Errorf("fill to %.3g m: the pump lifts %.3g m, the table needs %.3g m; choose a pump with more head or lower the table",
			depth, s.Pump.ShutOff(), s.Lift+depth)
	}
	return seconds(integrate(0, float64(depth), func(y float64) float64 { return float64(area) / s.flow(y) })), nil
}

// integrate is Simpson's rule on 32 panels: the integrands here are smooth, and
// it is exact to a part in 10⁶ even close to a pump's shut-off head.
func integrate(from, to float64, f func(float64) float64) float64 {
	const panels = 32
	h := (to - from) / panels
	sum := f(from) + f(to)
	for i := 1; i < panels; i++ {
		sum += float64(2+2*(i%2)) * f(from+float64(i)*h)
	}
	return sum * h / 3
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }
