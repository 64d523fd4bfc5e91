package sim

import (
	"math"

	"benchtide/hw/hydraulics"
)

// curve is a flow that goes roughly with the root of a head, tabled once so that
// the inner loop solves no pipe. Its square is nearly straight in the head,
// which makes the straight line between knots exact to a part in a thousand.
type curve struct {
	low, perStep float64
	squares      []float64 // of L/s
}

const curveSteps = 96

// newCurve tables flow for heads from low to high, in metres.
func newCurve(low, high float64, flow func(head hydraulics.Metres) (hydraulics.CubicMetresPerSecond, error)) (curve, error) {
	c := curve{low, curveSteps / (high - low), make([]float64, curveSteps+1)}
	for i := range c.squares {
		q, err := flow(hydraulics.Metres(low + float64(i)/c.perStep))
		if err != nil {
			return curve{}, err
		}
		c.squares[i] = math.Pow(float64(q)*1000, 2)
	}
	return c, nil
}

// at gives the flow in L/s; outside the table its nearest end.
func (c *curve) at(head float64) float64 {
	x := (head - c.low) * c.perStep
	i := int(x)
	switch {
	case x <= 0:
		return math.Sqrt(c.squares[0])
	case i >= curveSteps:
		return math.Sqrt(c.squares[curveSteps])
	}
	f := x - float64(i)
	return math.Sqrt(c.squares[i]*(1-f) + c.squares[i+1]*f)
}
