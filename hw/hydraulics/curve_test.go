package hydraulics

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func mustPump(t *testing.T) func(Pump, error) Pump {
	return func(p Pump, err error) Pump {
		t.Helper()
		require.NoError(t, err)
		return p
	}
}

// Through two points it is the straight line, through many of a label's curve that
// curve.
func TestACurveOfPointsIsThePumpThatTheyAreOf(t *testing.T) {
	q := LitresPerHour(2000)
	straight := mustPump(t)(Straight(2.2, q))
	two := mustPump(t)(Curve(PumpPoint{q, 0}, PumpPoint{0, 2.2}))
	label := mustPump(t)(Nameplate(2.2, q))
	var points []PumpPoint
	for i := range 41 {
		h := Metres(2.2 * float64(i) / 40)
		points = append(points, PumpPoint{CubicMetresPerSecond(label.flow(label.shutOff-float64(h), 0)), h})
	}
	many := mustPump(t)(Curve(points...))
	for _, c := range []struct{ is, want Pump }{{two, straight}, {many, label}} {
		assert.Equal(t, c.want.shutOff, c.is.shutOff)
		assert.InEpsilon(t, float64(c.want.MaxFlow()), float64(c.is.MaxFlow()), 1e-6)
		for _, r := range []float64{0, 1e6, 4e6} {
			for _, static := range []float64{0, 0.3, 0.8, 1.7, 2.1} {
				got, want := c.is.flow(c.is.shutOff-static, r), c.want.flow(c.want.shutOff-static, r)
				assert.InDelta(t, want, got, 0.02*float64(q), "%v at r %g", static, r)
				assert.InDelta(t, c.want.head(want), c.is.head(got), 0.03)
			}
		}
	}
}

func TestACurveSaysNothingAboveItsLastPoint(t *testing.T) {
	p := mustPump(t)(Curve(PumpPoint{LitresPerHour(1500), 0.5}, PumpPoint{LitresPerHour(900), 1}, PumpPoint{LitresPerHour(400), 1.5}))
	assert.InDelta(t, 2100, p.MaxFlow().LitresPerHour(), 0.1, "on as between the first two")
	for head, want := range map[float64]float64{0.75: 1200, 1.25: 650, 1.499: 401, 1.5: 0, 1.6: 0} {
		assert.InDelta(t, want, CubicMetresPerSecond(p.flow(p.shutOff-head, 0)).LitresPerHour(), 0.1, "%v", head)
	}
}

func TestPointsThatAreNoCurveAreRefused(t *testing.T) {
	for name, points := range map[string][]PumpPoint{
		"one":           {{1e-4, 0}},
		"none":          nil,
		"flow rises":    {{1e-4, 0}, {2e-4, 1}},
		"flow stays":    {{1e-4, 0}, {1e-4, 1}},
		"head falls":    {{2e-4, 1}, {1e-4, 0}},
		"head stays":    {{2e-4, 1}, {1e-4, 1}},
		"below nothing": {{2e-4, 0}, {-1e-4, 1}},
	} {
		_, err := Curve(points...)
		assert.Error(t, err, name)
	}
}
