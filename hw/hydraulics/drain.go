package hydraulics

import (
	"cmp"
	"fmt"
	"math"
	"time"
)

// Discharge coefficients of an opening in the floor of a table. Source: any
// text; sharp 0.60–0.62, short tube about 0.8 (from memory).
const (
	SharpEdge  = 0.61
	ShortTube  = 0.8
	RoundedLip = 0.97
)

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

// DrainTime is how long the orifice takes to lower a constant free area from one
// height of water over its outfall to another: t = 2A/(Cd·a·√2g)·(√h₁ − √h₂).
// Down to 0 it is twice volume over first flow. With a full drop pipe below the
// floor, heights are counted from the pipe's end and Cd is DropPipe.Discharge.
//
// Source: Torricelli with continuity, any text on fluid mechanics.
func (o Orifice) DrainTime(area SquareMetres, from, to Metres) (time.Duration, error) {
	if err := cmp.Or(o.check(), heights(area, from, to)); err != nil {
		return 0, err
	}
	rate := o.Discharge * float64(o.Area) * math.Sqrt(2*Gravity)
	return seconds(2 * float64(area) / rate * (math.Sqrt(float64(from)) - math.Sqrt(float64(to)))), nil
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

// Discharge is the coefficient 1/√(ΣK + f·L/D) that makes an Orifice of the
// full pipe at flow q, the exit loss of 1 being among ΣK.
func (d DropPipe) Discharge(q CubicMetresPerSecond) (float64, error) {
	if err := positive("flow", float64(q), "m³/s"); err != nil {
		return 0, err
	}
	loss, err := d.Pipe.HeadLoss(q, d.Viscosity)
	if err != nil {
		return 0, err
	}
	v := float64(q) / float64(d.Pipe.Bore.Bore())
	return math.Sqrt(v * v / (2 * Gravity) / float64(loss)), nil
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
	return falling(math.Sqrt(head/r), func(q float64) float64 {
		return head - r*q*q - s.Hose.headLoss(q, float64(s.Viscosity))
	})
}

// DrainTime is how long an outlet takes to lower a constant free area from one
// depth to another. It is an error when the flow ends before that, as a weir's
// or an orifice's does at a bare floor: ask for a depth that counts as bare.
//
// Source: derived from A·dy/dt = −Q(y).
func DrainTime(area SquareMetres, from, to Metres, out Outlet) (time.Duration, error) {
	if err := heights(area, from, to); err != nil {
		return 0, err
	}
	last, err := out.Flow(to)
	if err != nil {
		return 0, err
	}
	if last <= 0 {
		return 0, fmt.Errorf("drain to %.3g m: the outlet passes nothing there; ask for a little more depth", to)
	}
	if _, err := out.Flow(from); err != nil {
		return 0, err
	}
	return seconds(drainSeconds(float64(area), float64(from), float64(to), out)), nil
}

// drainSeconds integrates over √y, which takes out the steepness of weirs and
// orifices near the floor.
func drainSeconds(area, from, to float64, out Outlet) float64 {
	return integrate(math.Sqrt(to), math.Sqrt(from), func(r float64) float64 {
		q, _ := out.Flow(Metres(r * r)) // inside [to, from], which both passed
		return 2 * r * area / float64(q)
	})
}

func heights(area SquareMetres, from, to Metres) error {
	return cmp.Or(positive("table area", float64(area), "m²"), between("first depth", float64(from), 0, 10, "m"),
		between("last depth", float64(to), 0, float64(from), "m"))
}
