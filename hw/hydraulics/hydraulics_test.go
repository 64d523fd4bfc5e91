package hydraulics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	. "benchtide/hw/hydraulics"
)

// bench is a plausible small bench: 19 mm hose, 3 m, lifting 0.8 m.
func bench(t require.TestingT) Supply {
	pump, err := Nameplate(2.2, LitresPerHour(2000))
	require.NoError(t, err)
	minor, err := MinorLoss(EntranceSharp, ElbowThreaded, Exit)
	require.NoError(t, err)
	return Supply{pump, Pipe{Bore: 0.019, Length: 3, Roughness: SmoothWall, Minor: minor}, 0.8, ViscosityAt20}
}

func TestFrictionIsContinuousAndLossGrowsThroughTransition(t *testing.T) {
	for _, edge := range []float64{LaminarBelow, TurbulentAbove} {
		assert.InEpsilon(t, FrictionFactor(edge*(1-1e-9), 1e-4), FrictionFactor(edge*(1+1e-9), 1e-4), 1e-6)
	}
	var last Metres
	for q := CubicMetresPerSecond(1e-6); q < 2e-4; q += 1e-6 {
		h, err := bench(t).Hose.HeadLoss(q, ViscosityAt20)
		require.NoError(t, err)
		require.Greater(t, h, last)
		last = h
	}
}

// Source: Hazen-Williams in SI, h = 10.67·L·Q^1.852/(C^1.852·D^4.8704), from memory; smooth plastic C 150.
func TestHazenWilliamsReadsALittleLessThanColebrookInSmallHoses(t *testing.T) {
	for _, c := range []struct{ bore, length, lph float64 }{
		{0.013, 2, 600}, {0.013, 2, 1000}, {0.016, 3, 1000}, {0.019, 3, 1500}, {0.025, 3, 2000}, {0.025, 3, 3000},
	} {
		q := c.lph / 3.6e6
		hw := 10.67 * c.length * math.Pow(q, 1.852) / (math.Pow(150, 1.852) * math.Pow(c.bore, 4.8704))
		h, err := Pipe{Bore: Metres(c.bore), Length: Metres(c.length), Roughness: SmoothWall}.HeadLoss(CubicMetresPerSecond(q), ViscosityAt20)
		require.NoError(t, err)
		assert.InDelta(t, 0.065, 1-hw/float64(h), 0.04, "3 to 10 %% low at %v", c)
	}
}

func TestSupplyMeetsThePumpCurve(t *testing.T) {
	s := bench(t)
	q, err := s.Flow(0.03)
	require.NoError(t, err)
	head, err := s.Pump.Head(q)
	require.NoError(t, err)
	loss, err := s.Hose.HeadLoss(q, s.Viscosity)
	require.NoError(t, err)
	assert.InDelta(t, 0.83+float64(loss), float64(head), 1e-9)
}

func TestFlowUnderInvertsHeadLoss(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Pipe{Bore: Metres(rapid.Float64Range(0.008, 0.1).Draw(t, "bore")), Length: Metres(rapid.Float64Range(0, 20).Draw(t, "length")),
			Roughness: SmoothWall, Minor: rapid.Float64Range(0.5, 20).Draw(t, "minor")}
		h := Metres(rapid.Float64Range(1e-4, 5).Draw(t, "head"))
		q, err := p.FlowUnder(h, ViscosityAt20)
		require.NoError(t, err)
		back, err := p.HeadLoss(q, ViscosityAt20)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(h), float64(back), 1e-9)
	})
}

func TestStandpipeHeadInvertsFlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Standpipe{Metres(rapid.Float64Range(0.01, 0.1).Draw(t, "bore"))}
		h := Metres(rapid.Float64Range(1e-4, 0.2).Draw(t, "head"))
		q, err := s.Flow(h)
		require.NoError(t, err)
		back, err := s.Head(q)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(h), float64(back), 1e-9)
	})
}

func TestDrainIdentities(t *testing.T) {
	o := Orifice{Area: 2e-4, Discharge: SharpEdge}
	time := func(area float64, o Orifice, from, to float64) float64 { return passes(t, o.Flow, area, to, from) }
	whole := time(2, o, 0.04, 0)
	assert.InEpsilon(t, 2*whole, time(2, Orifice{1e-4, SharpEdge}, 0.04, 0), 1e-9, "half the opening, twice the time")
	assert.InEpsilon(t, 2*whole, time(4, o, 0.04, 0), 1e-9, "twice the table, twice the time")
	assert.InEpsilon(t, whole/2, time(2, o, 0.04, 0.01), 1e-9, "to a quarter of the depth, half the time")
	first, err := o.Flow(0.04)
	require.NoError(t, err)
	assert.InEpsilon(t, 2*2*0.04/float64(first), whole, 1e-9, "twice volume over first flow")
}

func TestDropPipeEmptiesAtItsMouthOnceShallow(t *testing.T) {
	d := DropPipe{Pipe: Pipe{Bore: 0.025, Length: 0.6, Roughness: SmoothWall, Minor: 1.5}, Drop: 0.6, Viscosity: ViscosityAt20}
	deep, err := d.Flow(0.5)
	require.NoError(t, err)
	full, err := d.Pipe.FlowUnder(1.1, ViscosityAt20)
	require.NoError(t, err)
	assert.Equal(t, full, deep)

	shallow, err := d.Flow(0.004)
	require.NoError(t, err)
	weir, err := Weir(math.Pi*0.025, 0.004)
	require.NoError(t, err)
	assert.Equal(t, weir, shallow)
}

func TestIdlePumpPassesLessTheMoreItResists(t *testing.T) {
	free := BackThroughPump{Supply: bench(t), Sump: 0.005, Idle: 1e-9}
	easy := BackThroughPump{Supply: bench(t), Sump: 0.005}
	hard := BackThroughPump{Supply: bench(t), Sump: 0.005, Idle: 10}
	var last CubicMetresPerSecond
	for _, b := range []BackThroughPump{hard, easy, free} {
		q, err := b.Flow(0.05)
		require.NoError(t, err)
		assert.Greater(t, q, last)
		last = q
	}
	hose, err := free.Supply.Hose.FlowUnder(0.85, ViscosityAt20)
	require.NoError(t, err)
	assert.InEpsilon(t, float64(hose), float64(last), 1e-6)
}

func TestFillTakesLongerThroughAHose(t *testing.T) {
	s := bench(t)
	slow := passes(t, s.Flow, 2.88, 0, 0.026)
	s.Hose = noHose
	fast := passes(t, s.Flow, 2.88, 0, 0.026)
	assert.Greater(t, slow, fast)
}

func TestOutsideItsRangeEachFormulaIsAnError(t *testing.T) {
	s := bench(t)
	bad := func(_ any, err error) error { return err }
	for name, err := range map[string]error{
		"no bore":          bad(Pipe{Length: 1}.HeadLoss(1e-4, 1e-6)),
		"rough":            bad(Pipe{Bore: 0.01, Roughness: 0.001}.HeadLoss(1e-4, 1e-6)),
		"nothing":          bad(Pipe{Bore: 0.01}.FlowUnder(1, 1e-6)),
		"negative head":    bad(Pipe{Bore: 0.01, Minor: 1}.FlowUnder(-1, 1e-6)),
		"fitting":          bad(MinorLoss("foot valve")),
		"no head":          bad(Nameplate(0, 1)),
		"no flow":          bad(Straight(1, 0)),
		"beyond the curve": bad(s.Pump.Head(1)),
		"no pump":          bad(Supply{Hose: s.Hose, Viscosity: 1e-6}.Flow(0)),
		"too deep":         bad(s.Flow(11)),
		"weir":             bad(Standpipe{0.05}.Flow(-0.001)),
		"no edge":          bad(Weir(0, 0.1)),
		"no standpipe":     bad(Standpipe{}.Head(1e-4)),
		"wide standpipe":   bad(Standpipe{2}.Flow(0.01)),
		"venting":          bad(SelfVenting(0)),
		"orifice":          bad(Orifice{}.Flow(1)),
		"drop pipe":        bad(DropPipe{}.Flow(0.1)),
		"drop pipe depth":  bad(DropPipe{}.Flow(nanMetres())),
		"no lift":          bad(BackThroughPump{Supply: Supply{Pump: s.Pump, Hose: s.Hose, Viscosity: 1e-6}}.Flow(0.1)),
		"density":          bad(HydraulicPower(1, 1, 1)),
		"efficiency":       bad(ElectricalPower(1, 0)),
		"power":            bad(ElectricalPower(-1)),
	} {
		assert.Error(t, err, name)
	}
	_, err := Supply{Hose: s.Hose, Viscosity: 1e-6}.Flow(0)
	assert.ErrorContains(t, err, "pump's shut-off head 0 m is outside the formula's range: it must be above 0")
}

func nanMetres() Metres { return Metres(math.NaN()) }
