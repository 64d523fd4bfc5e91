// Package sheet works out what the numbers of a bench come to: the bench sheet.
// From table, standpipe, supply, drain and pots it finds how much water a
// flood takes, how long it fills, falls and drains, how long a blocked
// standpipe would take to spill, and whether the reservoir could overfill the
// table at all. What was measured on the bench goes before what is computed.
//
// Each figure has a span, see Spans: of benches that are as their file says, nine in ten
// lie in it. It says what a file cannot tell of pump, standpipe, hose, drain, floats,
// table and pots (Inputs), and nothing of leaks, leaves and other faults.
package sheet

import (
	"fmt"
	"time"

	"benchtide/controller/quantity"
)

// Sheet is one bench's sheet.
type Sheet struct {
	VFlood       quantity.Litres        // the most litres out at once
	Fill         time.Duration          // T_fill: pump start to FULL made, or to the crest without FULL
	Fall         time.Duration          // T_fall: pump stop to FULL clear, or to the crest without FULL
	Drain        time.Duration          // T_drain: pump stop to bare table
	Over         time.Duration          // T_over: crest to rim with the drain blocked and the pump running
	Flow         quantity.LitresPerHour // while filling
	EndFlow      quantity.LitresPerHour // when FULL is made, the reservoir's level fallen by Drawdown; 0 where the pump lifts no more
	Drawdown     quantity.Metres        // of the reservoir in a fill from the mark
	SurfaceKnown bool                   // Drawdown rests on the reservoir's surface, and not on an assumption
	Pumped       quantity.LitresPerHour // what the pump brings: Flow, and what an open drain takes meanwhile
	OverflowHead quantity.Metres        // above the crest while the standpipe carries all of Pumped

	// ToFull and ToCrest are what has left the reservoir when FULL is made and when
	// the water stands at the crest, before the pots have drunk; the hose included.
	ToFull, ToCrest quantity.Litres

	Drunk quantity.Litres // the most that the pots take up in one flood; a part of VFlood

	// ToRim is what the table holds to its rim, pots in place: with no more in
	// the reservoir nothing can overfill the table. What is kept back counts
	// as drawn here, since a pump that does not stop draws it too.
	ToRim       quantity.Litres
	CanOverfill bool // the reservoir holds more than ToRim

	Bare   quantity.Litres // V_flood on a table without pots
	Margin quantity.Metres // from the deepest water, the drain blocked, up to the rim
	Left   quantity.Litres // in the reservoir at the deepest point, what is kept back included
	Point  Point

	LoadPerSquareMetre float64 // kg/m² of water in a flood, pots left out
	PotsPerSquareMetre float64 // kg/m² of pots at container capacity

	Spans Spans   // of the figures; see there what they mean
	Weak  float64 // the share of benches as their file says of which the water does not reach FULL

	Reasons []Reason // how each figure came about, in words
	Doubts  []string // where what was measured and the other figures disagree
}

// Reason says in words where one figure comes from.
type Reason struct{ Of, Because string }

func (s *Sheet) because(of, format string, args ...any) {
	s.Reasons = append(s.Reasons, Reason{of, fmt.Sprintf(format, args...)})
}

// New returns the sheet of b. The error says which figure cannot be found and
// what to change: a pump too weak for the lift, a drain that takes more than
// the pump brings, a standpipe too narrow for the pump, pots that do not fit.
//
// The figures are those of the tenants that take the most water; what keeps
// water from the floor is that of the tenants that leave it least room.
func New(b Bench) (Sheet, error) {
	w, err := b.water()
	if err != nil {
		return Sheet{}, err
	}
	var most Sheet
	var thirsty, crowded tenancy
	for i, t := range b.tenancies() {
		s, err := t.flood(w)
		if err != nil {
			return Sheet{}, err
		}
		if i == 0 || s.VFlood > most.VFlood {
			most, thirsty = s, t
		}
		if i == 0 || t.displaced(b.Table.Rim) > crowded.displaced(b.Table.Rim) {
			crowded = t
		}
	}
	crowded.spill(&most)
	most.Spans, most.Weak = thirsty.spans(w, &most)
	return most, nil
}

func (b Bench) tenancies() []tenancy {
	if len(b.Tenants) == 0 {
		return []tenancy{b.under(nil)}
	}
	var all []tenancy
	for _, pots := range b.Tenants {
		all = append(all, b.under(pots))
	}
	return all
}

// flood is the sheet but for what would overfill the table.
func (t tenancy) flood(w water) (s Sheet, err error) {
	for _, step := range []func(water, *Sheet) error{t.fit, t.fill, t.stand, t.fall, t.operate, t.reserve} {
		if err := step(w, &s); err != nil {
			return Sheet{}, err
		}
	}
	return s, nil
}

// densest is the share of a plane that circles can cover (hexagonal packing,
// π/√12).
const densest = 0.9069

func (t tenancy) fit(water, *Sheet) error {
	var ground quantity.SquareMetres
	for _, p := range t.pots {
		ground += p.ground()
	}
	if ground > densest*t.area() {
		return fmt.Errorf("the pots cover %s and the table has %s: put fewer or smaller pots on it", t.Units.Area(ground), t.Units.Area(t.area()))
	}
	return nil
}

// Because says where the figure called of comes from; empty when it is not on
// the sheet.
func (s *Sheet) Because(of string) string {
	for _, r := range s.Reasons {
		if r.Of == of {
			return r.Because
		}
	}
	return ""
}
