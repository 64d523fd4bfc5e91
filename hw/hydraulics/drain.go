package hydraulics

import (
	"cmp"
	"math"
)

// SharpEdge is the discharge coefficient of an opening with a sharp edge in the
// floor of a table, without a unit. Source: any text, 0.60–0.62 (from memory).
const SharpEdge = 0.61

// Outlet lets water out of a table. Flow is for a depth over the table's floor
// from 0 to 1 m and must not fall with depth.
type Outlet interface {
	Flow(depth Metres) (CubicMetresPerSecond, error)
}

// Orifice is an opening in the floor that discharges freely:
// Q = Cd·a·√(2gh). Source: Torricelli.
type Orifice struct {
	Area      SquareMetres
	Discharge float64 // Cd, above 0 to 1
}

// Flow of the orifice under depth.
func (o Orifice) Flow(depth Metres) (CubicMetresPerSecond, error) {
	if err := cmp.Or(o.check(), between("depth", float64(depth), 0, 10, "m")); err != nil {
		return 0, err
	}
	return CubicMetresPerSecond(o.Discharge * float64(o.Area) * math.Sqrt(2*Gravity*float64(depth))), nil
}

func (o Orifice) check() error {
	return cmp.Or(positive("opening", float64(o.Area), "m²"), positive("discharge coefficient", o.Discharge, ""),
		between("discharge coefficient", o.Discharge, 0, 1, ""))
}

// DropPipe is a drain whose pipe falls Drop below the floor and runs full once
// its mouth is well covered. The mouth sits Sump below the table's floor, in the
// channel that leads to it, and rules as a weir while the cover is shallow and
// air goes down with the water.
type DropPipe struct {
	Pipe      Pipe // with entrance and exit among its minor losses
	Drop      Metres
	Sump      Metres
	Viscosity SquareMetresPerSecond
}

// Flow of the drop pipe: what its mouth takes as a weir under depth + Sump, or
// Full, whichever is less.
func (d DropPipe) Flow(depth Metres) (CubicMetresPerSecond, error) {
	full, err := d.Full(depth)
	if err != nil {
		return 0, err
	}
	return mouthed(full, d.Pipe.Bore, depth+d.Sump)
}

// Full is the flow of the pipe running full under depth + Drop.
//
// Source: derived from Bernoulli, h = (ΣK + f·L/D)·V²/2g.
func (d DropPipe) Full(depth Metres) (CubicMetresPerSecond, error) {
	if err := between("depth", float64(depth), 0, 1, "m"); err != nil {
		return 0, err
	}
	return d.Pipe.FlowUnder(depth+d.Drop, d.Viscosity)
}

// mouthed holds a full pipe's flow to what its mouth takes as a circular weir.
// The mouth never turns into an orifice: a full pipe below it sucks.
func mouthed(full CubicMetresPerSecond, bore, head Metres) (CubicMetresPerSecond, error) {
	mouth, err := Weir(math.Pi*bore, head)
	return min(mouth, full), err
}

// IdleResistance is how many times its own inner resistance, taken from the
// curve, a stopped pump opposes to water that runs back through it. No source:
// a wheel driven backwards passes water less well than forwards; calibrate.
const IdleResistance = 1.5

// BackThroughPump is the drain of a table whose hose ends in its floor: the water
// returns through the hose and the idle pump, without a check valve.
type BackThroughPump struct {
	Supply Supply
	Sump   Metres  // depth of the channel in which the hose's mouth sits
	Idle   float64 // times the pump's own resistance; 0 means IdleResistance
}

// Flow back at depth: what the mouth takes as a weir, or Full, whichever is less.
func (b BackThroughPump) Flow(depth Metres) (CubicMetresPerSecond, error) {
	full, err := b.Full(depth)
	if err != nil {
		return 0, err
	}
	return mouthed(full, b.Supply.Hose.Bore, depth+b.Sump)
}

// Full is what Lift + depth drives through hose and pump running full. The
// pump's resistance is that of its curve, H₀/Qmax², times Idle.
//
// Source: derived from Bernoulli; the pump's share has none, see IdleResistance.
func (b BackThroughPump) Full(depth Metres) (CubicMetresPerSecond, error) {
	s := b.Supply
	err := cmp.Or(s.Pump.known(), s.Hose.check(s.Viscosity), positive("lift", float64(s.Lift), "m"),
		between("depth", float64(depth), 0, 1, "m"), between("idle resistance", b.Idle, 0, 1e3, ""))
	if err != nil {
		return 0, err
	}
	return CubicMetresPerSecond(b.full(float64(s.Lift + depth))), nil
}

func (b BackThroughPump) full(head float64) float64 {
	s, idle := b.Supply, b.Idle
	if idle == 0 {
		idle = IdleResistance
	}
	top := float64(s.Pump.MaxFlow())
	r := idle * s.Pump.shutOff / (top * top)
	if f := s.Hose.Friction; f > 0 {
		return math.Sqrt(head / (r + s.Hose.resistance(f)))
	}
	return falling(math.Sqrt(head/r), func(q float64) float64 {
		return head - r*q*q - s.Hose.headLoss(q, float64(s.Viscosity))
	})
}
