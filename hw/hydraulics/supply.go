package hydraulics

import "cmp"

// Supply is what fills a table: a pump, its hose, and the lift from the surface
// of the reservoir to the floor of the table.
type Supply struct {
	Pump      Pump
	Hose      Pipe
	Lift      Metres
	Viscosity SquareMetresPerSecond // of the solution; see ViscosityAt20
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
	if f := s.Hose.Friction; f > 0 {
		return s.Pump.flow(s.Pump.shutOff-static, s.Hose.resistance(f))
	}
	return falling(s.Pump.flow(s.Pump.shutOff-static, 0), func(q float64) float64 {
		return s.Pump.head(q) - static - s.Hose.headLoss(q, float64(s.Viscosity))
	})
}
