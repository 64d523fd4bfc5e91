package rehearse

import (
	"strings"
)

// Bound states what a fault may do by itself, on a bench with these sensors. The
// first row of bounds that fits holds. It is the only such table: the checker of
// every rehearsal, the campaigns and deploy/FAILURES.md read it.
//
// Where every reservoir has a low switch no fault may run a pump dry but those
// that take that switch away; where one has none, any may. Water that begins to go
// astray in a flood may run its pump dry: the switch has fallen by then, FULL stays
// made, and nothing but a floor sensor tells that water does not come back. So may a
// flood that a blocked standpipe keeps on a table which can hold all of the reservoir
// below HIGH, a welded pump whose bench has nothing that shows the weld, and one that
// feeds a leak of a bench whose drain is always open: the count leaves out what such a
// drain brings home, and it does so only while the table fills as it should.
type Bound struct {
	Fault string
	With  string  // what its bench has to have: FULL, HIGH, EMPTY, leak, low, weighs, drained, enable
	From  float64 // the least share of what the pump brings, or the table holds, that leaks in a flood

	Spills  func(*Case) float64 // litres on the floor at the most; nil for none
	Dry     bool                // it takes away what would have told that there is no water
	DryWith string              // the same on such a bench: open, with a drain that is; emptied, with a table that holds all of the reservoir
	Astray  bool                // the pump that runs when it begins may run dry until its flood ends
	Endless bool                // nothing but a person stops the pump, and it may run dry as long as the fault lasts

	// Unheard is how many floods may be called proven with water of their own on the
	// floor before anybody is told, and any number after that, the one included that
	// was under way; often where no switch can tell. 0: none ever.
	Unheard int
}

const (
	often       = 1 << 20
	unheardSoon = 3
)

var bounds = []Bound{
	{Fault: "relay-welded", With: "FULL enable"},
	{Fault: "relay-welded", With: "enable", Dry: true},
	{Fault: "relay-welded", Dry: true, Endless: true},

	{Fault: "drain-blocked", With: "FULL", Spills: setIn, DryWith: "emptied"},
	{Fault: "drain-blocked", With: "HIGH", Spills: setIn},
	{Fault: "drain-blocked", Spills: overTheRim},

	{Fault: "valve-stuck", Spills: setIn},

	{Fault: "table-leak", With: "leak", Spills: ontoThePad},
	{Fault: "table-leak", Spills: throughTheHole, Astray: true, DryWith: "open", Unheard: often},

	{Fault: "hose-off", With: "leak", Spills: ontoThePad},
	{Fault: "hose-off", With: "FULL", From: 1, Spills: untilLatched, Astray: true, DryWith: "open", Unheard: 1},
	{Fault: "hose-off", With: "FULL weighs drained", From: 0.2, Spills: throughTheHose, Astray: true, DryWith: "open", Unheard: unheardSoon},
	{Fault: "hose-off", With: "FULL weighs", From: 0.2, Spills: missedSoon, Astray: true, DryWith: "open", Unheard: unheardSoon},
	{Fault: "hose-off", With: "FULL weighs", From: 0.1, Spills: throughTheHose, Astray: true, DryWith: "open", Unheard: 6},
	{Fault: "hose-off", Spills: throughTheHose, Astray: true, DryWith: "open", Unheard: often},

	{Fault: "reservoir-leak", Spills: outOfTheTank, Astray: true},
	{Fault: "top-up-while-flooded", Spills: overTheTank},
	{Fault: "low-stuck", Dry: true},
	{Fault: "wire-open low", Dry: true},
	{Fault: "wire-short low", Dry: true},
}

// BoundOf returns the row for the one fault of a case; the zero row where there
// is none, or nothing is wrong.
func BoundOf(c *Case) Bound {
	what := c.Fault.What
	if _, low := strings.CutSuffix(c.Fault.Where, ".low"); low {
		what += " low"
	}
	for _, b := range bounds {
		if b.Fault == what && c.has(b.With) && c.share() >= b.From {
			b.Dry = b.Dry || b.DryWith != "" && c.has(b.DryWith)
			return b
		}
	}
	return Bound{Fault: what}
}

// Litres is the most that may reach the floor.
func (b Bound) Litres(c *Case) float64 {
	if b.Spills == nil {
		return 0
	}
	return min(b.Spills(c), c.supply())
}
