package sheet_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/hw/hydraulics"
)

// Of the closed form without hose and friction (REFERENCES row 18: quadratic 282.19 s,
// straight line 384.04 s): with nothing uncertain but the pump, of which the head is
// within a tenth, the span has to reach to either curve, and to that of a straight line
// but for a hundredth: one pump in ten comes near it.
func TestTheSpanOfAFillHoldsBothCurves(t *testing.T) {
	b := greenhouse()
	b.Standpipe, b.Full, b.Surface = sheet.Standpipe{Crest: 0.040, Bore: 0.075}, 0, 100
	b.Supply = sheet.Supply{Bore: 0.3, Length: 0.0001, Lift: 0.9, MaxHead: 2, MaxFlow: 2000}
	span := mustSheet(t, b).Spans["t_fill_s"]
	assert.Less(t, span[0], 300.0)
	assert.Greater(t, span[1], 0.99*384.04)
	assert.Less(t, span[1], 500.0)
}

// The head that a standpipe needs for a flow goes with the flow to two thirds while it
// is a weir: ±30 % of its flow alone, at 90 %, are −16 % to +24 % of the head.
func TestTheSpanOfTheOverflowHeadHoldsThatOfTheStandpipe(t *testing.T) {
	b := greenhouse()
	b.Cycle.Fill = 210 * time.Second
	b.Cycle.Flow = 1100
	s := mustSheet(t, b)
	span := s.Spans["overflow_head_mm"]
	nominal := 1000 * float64(s.OverflowHead)
	assert.Less(t, span[0], 0.88*nominal)
	assert.Greater(t, span[1], 1.15*nominal)
	assert.Greater(t, hydraulics.StandpipeUncertainty, 0.29)
}

func TestWhatWasTimedHasANarrowSpan(t *testing.T) {
	b := greenhouse()
	b.Tenants = [][]sheet.Pots{basil}
	wide := mustSheet(t, b).Spans
	b.Cycle = sheet.Cycle{Fill: 210 * time.Second, Fall: 2 * time.Minute, Drain: 12 * time.Minute}
	s := mustSheet(t, b)
	for key, was := range map[string]time.Duration{"t_fill_s": s.Fill, "t_fall_s": s.Fall, "t_drain_s": s.Drain} {
		assert.Less(t, s.Spans.Low(key), was, key)
		assert.Greater(t, s.Spans.High(key), was, key)
		assert.Less(t, s.Spans.High(key)-s.Spans.Low(key), (wide.High(key)-wide.Low(key))/2, key)
	}
}

// Whoever computes twice finds the same, and a sheet asks for no clock and no chance.
func TestSpansAreAlwaysTheSame(t *testing.T) {
	assert.Equal(t, mustSheet(t, greenhouse()).Spans, mustSheet(t, greenhouse()).Spans)
	assert.Len(t, mustSheet(t, greenhouse()).Spans, 12)
}

// A pump that lifts by its label lifts in no more than some of the benches that are as
// their file says.
func TestAPumpThatBarelyLiftsIsWeak(t *testing.T) {
	b := greenhouse()
	b.Surface = 1
	assert.Zero(t, mustSheet(t, b).Weak)
	var last float64
	for lift := quantity.Metres(1.80); lift < 2.05; lift += 0.05 {
		b.Supply.Lift = lift
		s := mustSheet(t, b)
		assert.GreaterOrEqual(t, s.Weak, last)
		last = s.Weak
		if s.Weak < 0.5 {
			require.NotEmpty(t, s.Spans)
		}
	}
	assert.Greater(t, last, 0.3)
}

// Pots that drink while the water falls take some of what would have to drain: at most
// 30 % of what they drink, over what stands between peak and FULL. Without pots a fall
// that was timed differs by what floods scatter alone.
func TestPotsThatDrinkShortenAFall(t *testing.T) {
	b := greenhouse()
	b.Cycle = sheet.Cycle{Fill: 210 * time.Second, Fall: 2 * time.Minute, Drain: 12 * time.Minute}
	bare := mustSheet(t, b).Spans
	assert.InDelta(t, 120*0.96, bare["t_fall_s"][0], 2.5)
	b.Tenants = [][]sheet.Pots{basil}
	potted := mustSheet(t, b)
	assert.Less(t, potted.Spans["t_fall_s"][0], bare["t_fall_s"][0]-2)
	assert.Greater(t, potted.Spans["t_fall_s"][0], 0.5*120)
	assert.InDelta(t, bare["t_fall_s"][1], potted.Spans["t_fall_s"][1], 3)
}

// People call a table bare when 0.5 to 2 mm are left, so that it is bare later, or
// before: where they stop early, the last of the water is still to come.
func TestATableIsBareBesideWhenPeopleCallItSo(t *testing.T) {
	b := greenhouse()
	b.Cycle.Drain = 12 * time.Minute
	span := mustSheet(t, b).Spans["t_drain_s"]
	assert.Greater(t, span[1]-12*60, 12*60-span[0], "a film of up to 2 mm, and of 0.5 mm at the least")
}
