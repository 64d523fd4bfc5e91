package rehearse

import (
	"os"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

// hose is the example's hose that loses a share of the flow from the first morning on.
func hose(t *testing.T, size float64) Scenario {
	s := Plain(date(t, "2026-03-26"), 4, 3)
	s.Faults = []Fault{{What: "hose-off", Where: "north", At: time.Date(2026, 3, 26, 7, 0, 0, 0, time.UTC), Size: size}}
	return s
}

// uncounted has the guard count no litres, as if the pump brought a tenth.
func uncounted(l *safety.Limits) { l.Benches[0].Flow /= 10 }

func TestCheckerFindsAPumpThatRunsDryOverALowSwitch(t *testing.T) {
	assert.Empty(t, played(t, defective(t, example(t), hose(t, 0.3), nil)))
	assertBroken(t, played(t, defective(t, example(t), hose(t, 0.3), uncounted)),
		"invariant 9: site: the pump of flood_pump ran dry, though tank has a low switch")
}

// A hose that comes off while the pump runs may run it dry in that flood, whose
// count knows of no leak; in every later flood it may not.
func TestCheckerLeavesTheFloodInWhichAHoseComesOff(t *testing.T) {
	small := altered(t, "usable: 200 L", "usable: 165 L")
	for _, c := range []struct {
		name   string
		minute int
		size   float64
		breaks bool
	}{{"before the flood", -1, 0.3, true}, {"in the hold", 6, 0.9, false}} {
		t.Run(c.name, func(t *testing.T) {
			s := hose(t, c.size)
			s.Days, s.Attended = 1, false
			s.Faults[0].At = time.Date(2026, 3, 26, 8, c.minute, 0, 0, time.UTC)
			r := defective(t, small, s, uncounted)
			broken := played(t, r)
			assert.Greater(t, r.report().DryPumpS, dryFor.Seconds())
			assert.Equal(t, c.breaks, len(broken) > 0, "%q", broken)
		})
	}
}

func TestCheckerFindsFloodsCalledProvenOnAWetFloor(t *testing.T) {
	site := altered(t, "low_switch:", "level_switch:")
	assert.Empty(t, played(t, defective(t, site, hose(t, 0.1), nil)))
	r := defective(t, site, hose(t, 0.1), nil)
	r.setup.Draw = nil // nothing is weighed, so no water is missed
	broken := played(t, r)
	assertBroken(t, broken, "invariant 9: north: flood 7 was called proven with ")
	assertBroken(t, broken, " L of it on the floor, and nobody was told")
}

// A second fault, or one that takes the low switch away, may do either.
func TestCheckerLeavesToOtherFaultsWhatTheirRowsAllow(t *testing.T) {
	two := hose(t, 0.3)
	two.Faults = append(two.Faults, Fault{What: "low-stuck", Where: "tank", At: two.Faults[0].At, Size: 1})
	assert.Empty(t, played(t, defective(t, example(t), two, uncounted)))

	site := altered(t, "    low_switch: {line: GPIO23, at: 155 L, water: closes}\n", "")
	rep := rehearsed(t, site, hose(t, 0.3))
	assert.Positive(t, rep.DryPumpS)
	assert.Empty(t, rep.BrokenInvariants)
}

// A floor sensor lets no flood be called proven on a floor that is wet from it.
func TestAProvenFloodOnAWetPadIsFound(t *testing.T) {
	site := altered(t, "    full_switch:", "    leak_switch: {line: GPIO27, water: opens}\n    full_switch:")
	s := hose(t, 0.1)
	assert.Empty(t, played(t, defective(t, site, s, nil)))
	r := defective(t, site, s, func(l *safety.Limits) { l.Benches[0].Leak = false })
	assertBroken(t, played(t, r), "invariant 9: north: flood 1 was called proven with ")
}

// Each bench answers for its own floor: what a fault of one allows, another may not.
func TestWhatAFaultAllowsIsOfItsOwnBench(t *testing.T) {
	data, err := os.ReadFile("../../testdata/configs/two-benches.yaml")
	require.NoError(t, err)
	site := parse(t, regexp.MustCompile(`(?m)^ *leak_switch:.*\n`).ReplaceAllString(string(data), ""))
	s := Plain(latest(site.Batches), 1, 1)
	s.Faults = []Fault{{What: "table-leak", Where: site.Benches[0].Name, At: s.From.At(0).In(site.Zone), Size: 1}}
	for b := range site.Benches {
		r := defective(t, site, s, nil)
		ends := func(kind controller.EventKind) *controller.Event {
			return &controller.Event{Kind: kind, Bench: b, Flood: controller.Flood{ID: 7, Bench: b, Outcome: controller.Proven}}
		}
		r.checker.harm.event(ends(controller.PumpStarted))
		r.board.Benches[b].Spilled += 5
		r.checker.harm.event(ends(controller.FloodEnded))
		assert.Len(t, r.checker.broken, b)
	}
}
