package sheet

import (
	"time"

	"benchtide/controller/quantity"
	"benchtide/hw/hydraulics"
)

const (
	// bare is the depth at which a table counts as empty: a film that only
	// drips (common practice, no source).
	bare quantity.Metres = 0.001

	// channel is how far the mouth of a drain lies below the floor of the
	// table (an assumption, no source; calibration replaces it).
	channel hydraulics.Metres = 0.005
)

// water are the hydraulic parts of a bench.
type water struct {
	supply    hydraulics.Supply
	standpipe hydraulics.Standpipe
	crest     quantity.Metres
	drain     hydraulics.Outlet
	open      bool // the drain passes water while the pump runs

	carries, drains float64 // standpipe and drain, times their formulae
}

func (b Bench) water() (water, error) {
	pump, err := b.Supply.Pump()
	if err != nil {
		return water{}, err
	}
	hose, err := pipe(b.Supply.Bore, b.Supply.Length, hydraulics.EntranceSharp, hydraulics.ElbowThreaded, hydraulics.Exit)
	if err != nil {
		return water{}, err
	}
	w := water{
		supply:    hydraulics.Supply{Pump: pump, Hose: hose, Lift: hydraulics.Metres(b.Supply.Lift), Viscosity: hydraulics.ViscosityAt20},
		standpipe: hydraulics.Standpipe{Bore: hydraulics.Metres(b.Standpipe.Bore)},
		crest:     b.Standpipe.Crest,
		carries:   1, drains: 1,
	}
	if b.Drain.ThroughPump {
		w.drain = hydraulics.BackThroughPump{Supply: w.supply, Sump: channel}
		return w, nil
	}
	fitting, err := pipe(b.Drain.Bore, b.Drain.Length, hydraulics.EntranceSharp, hydraulics.Exit)
	if err != nil {
		return water{}, err
	}
	drop := min(b.Drain.Length, b.Supply.Lift) // what is longer than the lift lies level
	w.drain = hydraulics.DropPipe{Pipe: fitting, Drop: hydraulics.Metres(drop), Sump: channel, Viscosity: hydraulics.ViscosityAt20}
	w.open = b.Drain.Always
	return w, nil
}

// pipe is a plastic pipe with its fittings.
func pipe(bore, length quantity.Metres, fittings ...hydraulics.Fitting) (hydraulics.Pipe, error) {
	minor, err := hydraulics.MinorLoss(fittings...)
	return hydraulics.Pipe{Bore: hydraulics.Metres(bore), Length: hydraulics.Metres(length), Roughness: hydraulics.SmoothWall, Minor: minor}, err
}

// drawn is w while so much of a flood is out that the level of the reservoir has
// fallen by as much.
func (w water) drawn(down quantity.Metres) water {
	w.supply.Lift += hydraulics.Metres(down)
	return w
}

// rising is the flow that raises the water at depth, the reservoir's level fallen by
// what is out by then where its surface is known.
func (t tenancy) rising(w water) func(quantity.Metres) (quantity.LitresPerHour, error) {
	return func(depth quantity.Metres) (quantity.LitresPerHour, error) {
		if down, known := t.Drawdown(t.water(depth) + t.hose()); known {
			return w.drawn(down).rising(depth)
		}
		return w.rising(depth)
	}
}

// rising is the flow that raises the water at depth.
func (w water) rising(depth quantity.Metres) (quantity.LitresPerHour, error) {
	in, err := w.supply.Flow(hydraulics.Metres(depth))
	if err != nil || !w.open {
		return flowFrom(in), err
	}
	out, err := w.drain.Flow(hydraulics.Metres(depth))
	return flowFrom(in - out), err
}

// falling is the flow that lowers the water at depth with the pump off.
func (w water) falling(depth quantity.Metres) (quantity.LitresPerHour, error) {
	return w.fallingAt(1)(depth)
}

// fallingAt is falling where the drain has a coefficient: that many times its
// flow. The standpipe keeps its own.
func (w water) fallingAt(coefficient float64) func(quantity.Metres) (quantity.LitresPerHour, error) {
	return func(depth quantity.Metres) (quantity.LitresPerHour, error) {
		out, err := w.drain.Flow(hydraulics.Metres(depth))
		out *= hydraulics.CubicMetresPerSecond(coefficient * w.drains)
		if err != nil || depth <= w.crest {
			return flowFrom(out), err
		}
		over, err := w.standpipe.Flow(hydraulics.Metres(depth - w.crest))
		return flowFrom(out + over*hydraulics.CubicMetresPerSecond(w.carries)), err
	}
}

// pumped is what the pump brings while the water rises at flow. With an open
// drain the rise does not show it; then it is what the label promises at the
// least lift.
func (w water) pumped(flow quantity.LitresPerHour) (quantity.LitresPerHour, error) {
	if !w.open {
		return flow, nil
	}
	in, err := w.supply.Flow(0)
	return max(flow, flowFrom(in)), err
}

// overflowHead is how high water stands above the crest while the standpipe
// carries all of flow, as it must when the drain is blocked.
func (w water) overflowHead(flow quantity.LitresPerHour) (quantity.Metres, error) {
	head, err := w.standpipe.Head(flowSI(flow) / hydraulics.CubicMetresPerSecond(w.carries))
	return quantity.Metres(head), err
}

// Venting is the most that a standpipe of a bore carries without gulping; 0 for none.
// Source: hydraulics.SelfVenting.
func Venting(bore quantity.Metres) quantity.LitresPerHour {
	most, err := hydraulics.SelfVenting(hydraulics.Metres(bore))
	if err != nil {
		return 0
	}
	return flowFrom(most)
}

// layers is how finely a change of depth is cut up; twice as many change a
// time by less than one part in a thousand.
const layers = 48

// between is how long the water takes from one depth to the other at the flow
// that each depth gives.
func (t tenancy) between(from, to quantity.Metres, flow func(quantity.Metres) (quantity.LitresPerHour, error)) (time.Duration, error) {
	var hours float64
	low := min(from, to)
	slice := (max(from, to) - low) / quantity.Metres(t.layers)
	for i := range t.layers {
		bottom := low + quantity.Metres(i)*slice
		q, err := flow(bottom + slice/2)
		if err != nil {
			return 0, err
		}
		if q <= 0 {
			return 0, stuckError{bottom + slice/2, t.Units}
		}
		hours += float64(t.water(bottom+slice)-t.water(bottom)) / float64(q)
	}
	return time.Duration(hours * float64(time.Hour)), nil
}

// stuckError says at which depth the water stops rising or falling.
type stuckError struct {
	depth quantity.Metres
	units quantity.Units
}

func (e stuckError) Error() string {
	return "the water stops at " + e.units.Depth(e.depth)
}

func flowSI(q quantity.LitresPerHour) hydraulics.CubicMetresPerSecond {
	return hydraulics.LitresPerHour(float64(q))
}

func flowFrom(q hydraulics.CubicMetresPerSecond) quantity.LitresPerHour {
	return quantity.LitresPerHour(q.LitresPerHour())
}
