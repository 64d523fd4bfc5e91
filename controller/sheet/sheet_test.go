package sheet_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// greenhouse is a bench whose every figure is computed.
func greenhouse() sheet.Bench {
	return sheet.Bench{
		Table:     sheet.Table{Length: 2.4, Width: 1.2, Rim: 0.075},
		Standpipe: sheet.Standpipe{Crest: 0.030, Bore: 0.050},
		Supply:    sheet.Supply{Bore: 0.019, Length: 3, Lift: 0.8, MaxHead: 2.2, MaxFlow: 2000},
		Drain:     sheet.Drain{ThroughPump: true},
		Full:      0.026,
		Usable:    200,
	}
}

var basil = []sheet.Pots{{Count: 96, Top: 0.09, Volume: 0.35, Capacity: 0.87}}

func mustSheet(t require.TestingT, b sheet.Bench) sheet.Sheet {
	s, err := sheet.New(b)
	require.NoError(t, err)
	return s
}

// Common practice, no source: a table of which 2.16 m² are free of pots, crest
// 30 mm, rim 75 mm, flow 15 L/min floods with 65 L in 4.3 min and has 97 L and
// 6.5 min between crest and rim; 150 L in the reservoir cannot overfill it and
// 200 L can.
func TestAWorkedExampleOfTheTrade(t *testing.T) {
	b := greenhouse()
	b.Table.Length, b.Full = 1.8, 0
	b.Cycle.Fill = 262602 * time.Millisecond // 64.8 L and the 0.8506 L of the hose
	s := mustSheet(t, b)
	assert.InDelta(t, 900, float64(s.Flow), 1)
	assert.InDelta(t, 6.48, s.Over.Minutes(), 0.01)
	assert.InDelta(t, 162, float64(s.ToRim), 0.1)
	assert.True(t, s.CanOverfill, "with 200 L")
	b.Usable = 150
	assert.False(t, mustSheet(t, b).CanOverfill, "with 150 L")
}

// Common practice, no source: a small bench fed from a 20 US gallon reservoir,
// crest about an inch with plugs standing half an inch above the pot base,
// fills in just over three minutes. Table and pump are chosen to be plausible:
// 4 ft by 4 ft, and a pump labelled 230 gph and 5 ft.
func TestASmallBenchFillsInJustOverThreeMinutes(t *testing.T) {
	s := mustSheet(t, sheet.Bench{
		Table:     sheet.Table{Length: 4 * quantity.Foot.Size, Width: 4 * quantity.Foot.Size, Rim: 2.5 * quantity.Inch.Size},
		Standpipe: sheet.Standpipe{Crest: quantity.Inch.Size, Bore: 1.25 * quantity.Inch.Size},
		Supply: sheet.Supply{Bore: 0.75 * quantity.Inch.Size, Length: 4 * quantity.Foot.Size, Lift: 2 * quantity.Foot.Size,
			MaxHead: 5 * quantity.Foot.Size, MaxFlow: 230 * quantity.GallonsPerHour.Size},
		Drain:   sheet.Drain{ThroughPump: true},
		Usable:  20 * quantity.Gallon.Size,
		Tenants: [][]sheet.Pots{{{Count: 49, Top: 4 * quantity.Inch.Size, Volume: 0.6, Capacity: 0.87}}},
	})
	assert.Greater(t, s.Fill, 3*time.Minute)
	assert.Less(t, s.Fill, 3*time.Minute+20*time.Second)
	assert.Less(t, s.VFlood, 20*quantity.Gallon.Size)
}

// The closed form for a quadratic pump curve without hose, derived from
// A·dy/dt = Q(y) and computed apart from this program: 1.2 × 2.4 m to 40 mm,
// 2 m and 2000 L/h on the label, 0.9 m of lift, takes 282.19 s.
func TestFillAgreesWithTheClosedForm(t *testing.T) {
	b := greenhouse()
	b.Standpipe = sheet.Standpipe{Crest: 0.040, Bore: 0.075}
	b.Supply = sheet.Supply{Bore: 0.3, Length: 0.0001, // no loss and next to no water in the hose
		Lift: 0.9, MaxHead: 2, MaxFlow: 2000}
	b.Full = 0
	assert.InDelta(t, 282.19, mustSheet(t, b).Fill.Seconds(), 0.1)
}

func TestMeasuredTimesGoBeforeComputedOnes(t *testing.T) {
	b := greenhouse()
	b.Tenants = [][]sheet.Pots{basil}
	computed := mustSheet(t, b)
	b.Cycle = sheet.Cycle{Fill: 210 * time.Second, Fall: 2 * time.Minute, Drain: 12 * time.Minute}
	s := mustSheet(t, b)
	assert.Equal(t, b.Cycle, sheet.Cycle{Fill: s.Fill, Fall: s.Fall, Drain: s.Drain})
	need := float64(computed.Flow) * computed.Fill.Hours()
	assert.InEpsilon(t, need/s.Fill.Hours(), float64(s.Flow), 1e-9, "the same water in the measured time")
	assert.Contains(t, s.Because("T_fill"), "measured")
	assert.Contains(t, computed.Because("T_fill"), "computed")
}

func TestAMeasurementThatTheFiguresContradictIsDoubted(t *testing.T) {
	b := greenhouse()
	b.Cycle.Fill = mustSheet(t, b).Fill * 3 / 2
	assert.Empty(t, mustSheet(t, b).Doubts)
	b.Cycle.Fill *= 2
	s := mustSheet(t, b)
	assert.Equal(t, b.Cycle.Fill, s.Fill)
	require.Len(t, s.Doubts, 1)
	assert.Contains(t, s.Doubts[0], "look at the label's flow and head, the lift and the hose")

	b.Drain = sheet.Drain{Bore: 0.06, Length: 0.6, Always: true}
	s = mustSheet(t, b)
	require.Len(t, s.Doubts, 1)
	assert.Contains(t, s.Doubts[0], "the open drain takes all that the pump brings")
}

func TestTenantsThatComeAndGoMakeEachFigureStrict(t *testing.T) {
	b := greenhouse()
	few := []sheet.Pots{{Count: 10, Top: 0.09, Volume: 0.35, Capacity: 0.87}}
	b.Tenants = [][]sheet.Pots{basil}
	full := mustSheet(t, b)
	b.Tenants = [][]sheet.Pots{few}
	thin := mustSheet(t, b)
	for _, order := range [][][]sheet.Pots{{few, basil}, {basil, few}} {
		b.Tenants = order
		s := mustSheet(t, b)
		assert.Equal(t, max(thin.VFlood, full.VFlood), s.VFlood)
		assert.Equal(t, full.ToRim, s.ToRim)
		assert.LessOrEqual(t, s.Over, thin.Over)
	}
}

func TestAnOpenDrainSlowsTheFillAndIsBlockedForOver(t *testing.T) {
	b := greenhouse()
	shut := mustSheet(t, b)
	b.Drain = sheet.Drain{Bore: 0.012, Length: 0.6, Always: true}
	s := mustSheet(t, b)
	assert.Greater(t, s.Fill, shut.Fill)
	assert.Greater(t, s.Pumped, s.Flow)
	assert.InEpsilon(t, float64(shut.Pumped), float64(s.Pumped), 0.05, "the pump brings the same")
	assert.InEpsilon(t, shut.Over.Seconds(), s.Over.Seconds(), 0.05)
}

func TestWhatCannotWorkIsRefusedWithARemedy(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*sheet.Bench)
		want   string
	}{
		{"a weak pump", func(b *sheet.Bench) { b.Supply.MaxHead = 0.7 },
			"the pump lifts 0.7 m and the table needs 0.83 m: choose a pump with more max_head or lower the table"},
		{"a wide drain", func(b *sheet.Bench) { b.Drain = sheet.Drain{Bore: 0.06, Length: 0.6, Always: true} },
			"the open drain takes all that the pump brings"},
		{"a narrow standpipe", func(b *sheet.Bench) { b.Standpipe.Bore = 0.012 },
			"fit a wider standpipe or a smaller pump"},
		{"too many pots", func(b *sheet.Bench) { b.Tenants = [][]sheet.Pots{{{Count: 500, Top: 0.09, Volume: 0.35}}} },
			"the pots cover 3.18 m² and the table has 2.88 m²: put fewer or smaller pots on it"},
	} {
		b := greenhouse()
		c.change(&b)
		_, err := sheet.New(b)
		require.ErrorContains(t, err, c.want, c.name)
	}
}

func TestFiguresMoveTheWayWaterDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := greenhouse()
		b.Standpipe.Crest = quantity.Metres(rapid.Float64Range(0.015, 0.040).Draw(t, "crest"))
		b.Full = b.Standpipe.Crest - 0.004
		pots := basil[0]
		pots.Count = rapid.IntRange(1, 90).Draw(t, "pots")
		b.Tenants = [][]sheet.Pots{{pots}}
		s := mustSheet(t, b)

		more := pots
		more.Count += 20
		b.Tenants = [][]sheet.Pots{{more}}
		crowded := mustSheet(t, b)
		assert.Less(t, crowded.Fill, s.Fill, "pots displace water")
		assert.Less(t, crowded.Over, s.Over)
		assert.Less(t, crowded.ToRim, s.ToRim)

		b.Tenants = [][]sheet.Pots{{pots}}
		b.Supply.MaxFlow *= 1.2
		stronger := mustSheet(t, b)
		assert.Less(t, stronger.Fill, s.Fill)
		assert.Greater(t, stronger.OverflowHead, s.OverflowHead)
		assert.Less(t, stronger.Over, s.Over)

		b.Supply.MaxFlow /= 1.2
		b.Standpipe.Bore *= 1.3
		assert.Less(t, mustSheet(t, b).OverflowHead, s.OverflowHead)

		assert.Positive(t, s.Fall)
		assert.Greater(t, s.Drain, s.Fall)
		assert.Greater(t, s.VFlood, quantity.Litres(0))
	})
}
