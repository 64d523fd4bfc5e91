package rehearse

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What takes away that a pump notices its water has gone is a matter of the bench: a
// weld that no FULL shows or no enable relay parts, a table that holds the reservoir,
// a drain that is always open.
func TestWhereAPumpMayRunDry(t *testing.T) {
	noFull := []string{"    full_switch: {line: GPIO24, at: 26 mm, water: closes}\n", "", "    cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}      # replaced by calibration\n", ""}
	noEnable := []string{"  enable:     {line: GPIO22, energise: high, kind: enable}   # second relay in series with every pump\n", ""}
	for name, c := range map[string]struct {
		alter        []string
		fault, where string
		dry, endless bool
	}{
		"a weld that FULL shows":             {nil, "relay-welded", "flood_pump", false, false},
		"a weld without FULL":                {noFull, "relay-welded", "flood_pump", true, false},
		"a weld that nothing parts":          {noEnable, "relay-welded", "flood_pump", true, true},
		"a blocked drain":                    {nil, "drain-blocked", "north", false, false},
		"a blocked drain, HIGH out of reach": {[]string{"usable: 200 L", "usable: 165 L", "at: 52 mm", "at: 68 mm"}, "drain-blocked", "north", true, false},
		"a leaking hose":                     {nil, "hose-off", "north", false, false},
		"a leaking hose over an open drain":  {[]string{"{through: pump}  ", "{bore: 12 mm, length: 0.6 m, open: always}  "}, "hose-off", "north", true, false},
	} {
		t.Run(name, func(t *testing.T) {
			s := Plain(date(t, "2026-03-26"), 4, 3)
			s.Faults = []Fault{{What: c.fault, Where: c.where, Size: 0.5}}
			one, single := CaseOf(altered(t, c.alter...), &s)
			require.True(t, single)
			b := BoundOf(one)
			assert.Equal(t, c.dry, b.Dry)
			assert.Equal(t, c.endless, b.Endless)
		})
	}
}

// Nobody is told by a float that weighs once the water is below it, where no low switch
// keeps floods off and nobody tops up.
func TestWhereAFloatThatWeighsTells(t *testing.T) {
	level := []string{"low_switch: {line: GPIO23, at: 155 L", "level_switch: {line: GPIO23, at: 155 L"}
	both := []string{"low_switch: {line: GPIO23, at: 155 L, water: closes}", "low_switch: {line: GPIO23, at: 140 L, water: closes}\n    level_switch: {line: GPIO26, at: 155 L, water: closes}"}
	for _, c := range []struct {
		alter    []string
		attended bool
		want     bool
	}{{nil, true, true}, {nil, false, true}, {level, true, true}, {level, false, false}, {both, true, true}, {both, false, false}} {
		s := Plain(date(t, "2026-03-26"), 4, 3)
		s.Attended = c.attended
		s.Faults = []Fault{{What: "hose-off", Where: "north", Size: 0.3}}
		one, _ := CaseOf(altered(t, c.alter...), &s)
		assert.Equal(t, c.want, one.weighs(), "%v", c)
	}
}

// Pots that people set into water which does not drain push it over the rim. The bound
// says how much at the most, and nothing where nobody sets any.
func TestPotsThatAreSetIntoStandingWater(t *testing.T) {
	const batch = "  - {name: basil_spring, plan: basil, bench: north, transplanted: 2026-03-02, pots: 96, pot: {top: 9 cm, volume: 0.35 L}, substrate: peat}"
	next := batch + "\n  - {name: more, plan: basil, bench: north, transplanted: 2026-03-28, pots: 100, pot: {top: 9 cm, volume: 0.35 L}, substrate: peat}"
	for _, c := range []struct {
		alter []string
		spill bool
	}{{nil, false}, {[]string{"rim: 75 mm", "rim: 58 mm"}, false}, {[]string{"rim: 75 mm", "rim: 58 mm", batch, next}, true}} {
		s := Plain(date(t, "2026-03-26"), 4, 3)
		s.Faults = []Fault{{What: "drain-blocked", Where: "north", At: s.From.At(0).In(altered(t).Zone)}}
		site := altered(t, c.alter...)
		rep, err := Run(t.Context(), site, s, Options{})
		require.NoError(t, err)
		one, _ := CaseOf(site, &s)
		most := BoundOf(one).Litres(one)
		assert.Equal(t, c.spill, rep.SpilledL > puddle)
		assert.Equal(t, c.spill, most > 0)
		assert.LessOrEqual(t, rep.SpilledL, most+puddle)
	}
}
