package config_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

const label = "max_head: 2.2 m, max_flow: 2000 L/h"

func changed(t *testing.T, oldNew ...string) (*config.Site, config.Problems) {
	for i := 0; i < len(oldNew); i += 2 {
		require.Contains(t, string(config.Example), oldNew[i])
	}
	return config.ParseOn("bench.yaml", []byte(strings.NewReplacer(oldNew...).Replace(string(config.Example))), checkedOn)
}

func TestSlipsInACurveAreNamedAtTheirPlace(t *testing.T) {
	for curve, says := range map[string]string{
		"[{head: 0 m, flow: 2000 L/h}]": "benches.north.supply.curve: 1 point: a curve wants two points at least",
		"[]":                            "0 points: a curve wants two points",
		"[{head: 2.2 m, flow: 0 L/h}, {head: 0 m, flow: 2000 L/h}]":                                "the points stand from the greatest head down: write the one with the least head first",
		"[{head: 0 m, flow: 2000 L/h}, {head: 2.2 m, flow: 0 L/h}, {head: 1.2 m, flow: 1300 L/h}]": "benches.north.supply.curve.3.head: 1.2 m: it stands after 2.2 m: put the points in order of head, the least first",
		"[{head: 0 m, flow: 1300 L/h}, {head: 1.2 m, flow: 2000 L/h}, {head: 2.2 m, flow: 0 L/h}]": "benches.north.supply.curve.2.flow: 2000 L/h: no less than the 1300 L/h at 0 m: a pump brings less the higher it lifts",
		"[{head: 0 m, flow: 2000 L/h}, {head: 0 m, flow: 1300 L/h}]":                               "the point before it has that head already",
		"[{head: 2000 L/h, flow: 0 m}, {head: 2.2 m, flow: 0 L/h}]":                                "benches.north.supply.curve.1: head and flow stand in each other's place: write {head: 0 m, flow: 2000 L/h}",
		"[{head: 0 m, flow: 2000 L/h}, {head: 0.8 m, flow: 600 L/h}]":                              "benches.north.supply.curve: the curve ends at 0.8 m, and the water has to be lifted 0.83 m",
		"[{head: 0 m, flow: 2000 L/h}, {head: 90 m, flow: 0 L/h}]":                                 "benches.north.supply.curve: 90 m: that cannot be the greatest head of such a pump",
		"[{head: 0 m, flow: 30 L/h}, {head: 2.2 m, flow: 0 L/h}]":                                  "benches.north.supply.curve: 30 L/h: that cannot be the greatest flow of such a pump",
		"[{head: 0 m, flow: 2000}, {head: 2.2 m, flow: 0 L/h}]":                                    "curve.1.flow: ",
		"2.2 m": "two or more points of the pump's curve",
		"[{head: 0 m, flow: 2000 L/h}, {head: 2.2 m, flow: 0 L/h}], max_head: 2.2 m": "curve and max_head: the curve says how high the pump lifts and how much it brings; keep one of the two",
	} {
		_, problems := changed(t, label, "curve: "+curve)
		errs := problems.Errors()
		require.NotEmpty(t, errs, curve)
		assert.Contains(t, errs[0].String(), says, curve)
		assert.Contains(t, errs[0].String(), "bench.yaml:24:", curve)
		assert.LessOrEqual(t, len(errs), 2, "%v", errs)
	}
	_, problems := changed(t, label, "max_head: 2.2 m")
	assert.ErrorContains(t, problems.Err(), "benches.north.supply.max_flow: missing")
}

// A straight curve brings less than the one that is laid through the label.
func TestASheetGoesByTheCurve(t *testing.T) {
	const unmeasured = "cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}"
	plain, problems := changed(t, unmeasured, "#")
	require.NoError(t, problems.Err())
	curve, problems := changed(t, unmeasured, "#", label, "curve: [{head: 0 m, flow: 2000 L/h}, {head: 2.2 m, flow: 0 L/h}]")
	require.NoError(t, problems.Err())
	a, b := plain.Sheet(0), curve.Sheet(0)
	assert.Greater(t, b.Fill, a.Fill*5/4)
	assert.Contains(t, b.Because("T_fill"), "computed from the pump's curve")
	assert.Contains(t, b.Because("operating point"), "on the pump's curve")
	assert.NotEqual(t, plain.Plumbing(0), curve.Plumbing(0))
}

func TestALevelThatFallsSlowsAFill(t *testing.T) {
	const unmeasured = "cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}"
	stays, problems := changed(t, unmeasured, "#")
	require.NoError(t, problems.Err())
	wide, problems := changed(t, unmeasured, "#", "usable: 200 L", "usable: 200 L\n    inside: {length: 1 m, width: 1 m}")
	require.NoError(t, problems.Err())
	narrow, problems := changed(t, unmeasured, "#", "usable: 200 L", "usable: 200 L\n    inside: {diameter: 0.5 m}")
	require.NoError(t, problems.Err())
	s, w, n := stays.Sheet(0), wide.Sheet(0), narrow.Sheet(0)
	assert.Greater(t, w.Fill, s.Fill)
	assert.Greater(t, n.Fill, w.Fill)
	assert.Less(t, n.EndFlow, w.EndFlow)
	assert.InDelta(t, float64(w.ToFull)/1000, float64(w.Drawdown), 1e-9)
	assert.Contains(t, s.Because("drawdown"), "taken to be 0.4 m deep, as its inside is not given")
	assert.Contains(t, w.Because("drawdown"), "a surface of 1 m²")
}

// A pump that lifts the water from the mark, and no longer when the level has fallen.
func TestAPumpThatBarelyLiftsIsRefused(t *testing.T) {
	const unmeasured = "cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}"
	weak := []string{"lift: 0.8 m, max_head: 2.2 m", "lift: 0.98 m, max_head: 1.05 m"}
	for name, c := range map[string]struct {
		with []string
		err  string
	}{
		"shape assumed":          {[]string{unmeasured, "#"}, "the level in the reservoir falls"},
		"inside given":           {[]string{unmeasured, "#", "usable: 200 L", "usable: 200 L\n    inside: {length: 1 m, width: 0.6 m}"}, "the level in the reservoir falls"},
		"measured, inside given": {[]string{"usable: 200 L", "usable: 200 L\n    inside: {length: 1 m, width: 0.6 m}"}, "the level in the reservoir falls"},
	} {
		_, problems := changed(t, append(c.with, weak...)...)
		assert.ErrorContains(t, problems.Err(), c.err, name)
	}
	_, problems := changed(t, weak...)
	require.NoError(t, problems.Err(), "a fill that was measured is more than a shape that is assumed")
	assert.Contains(t, problems.Error(), "give the inside of the reservoir, or look at lift and pump")

	_, problems = changed(t, "lift: 0.8 m, max_head: 2.2 m", "lift: 0.8 m, max_head: 1.1 m", "usable: 200 L", "usable: 200 L\n    inside: {length: 0.9 m, width: 0.5 m}")
	assert.ErrorContains(t, problems.Err(), "benches.north.supply.max_head: 1.1 m: a flood that begins with the low switch just made ends with the water lifted")
	_, problems = changed(t, "lift: 0.8 m, max_head: 2.2 m", "lift: 0.8 m, max_head: 1.2 m")
	require.NoError(t, problems.Err())
	assert.Contains(t, problems.Error(), "less than a fifth of the head is in reserve")
}

func TestAnInsideThatCannotHoldTheLitresIsNamed(t *testing.T) {
	for inside, says := range map[string]string{
		"{length: 9 m, width: 6 m}":      "reservoirs.tank.inside",
		"{length: 0.9 mm, width: 0.6 m}": "reservoirs.tank.inside.length",
		"{length: 0.1 m, width: 0.1 m}":  "reservoirs.tank.inside",
		"{length: 0.9 m}":                "reservoirs.tank.inside.width: missing",
		"{diameter: 0.8 m, width: 1 m}":  "diameter and width: a reservoir is round or has a length and a width; keep one of the two",
		"{diameter: 80}":                 "reservoirs.tank.inside.diameter",
		"{}":                             "reservoirs.tank.inside.length: missing",
		"0.9 m":                          "the plan of the reservoir inside",
	} {
		_, problems := changed(t, "usable: 200 L", "usable: 200 L\n    inside: "+inside)
		require.NotEmpty(t, problems, inside)
		assert.Contains(t, problems[0].String(), says, inside)
	}
}
