package safety

import "fmt"

// SetHandsIn says by command that a person begins or ends to work in the
// bench; the button counts besides. It takes effect in the next turn, and
// stays across a restart: the person may not have noticed one.
func (g *Guard) SetHandsIn(now Now, on bool) {
	g.dirty = g.dirty || on != g.byHand
	g.now, g.byHand, g.again = now, on, true
}

// checkHandsIn stops every run and opens every enable relay under hands-in.
// A press of the button counts at once, its end after the filter.
func (g *Guard) checkHandsIn() {
	on := g.byHand || g.button.anyWet()
	if on != g.handsIn {
		g.handsIn = on
		level := Dry
		if on {
			level = Wet
		}
		g.emit(Event{Kind: SwitchChanged, Bench: -1, Switch: "hands_in", Level: level})
	}
	if !on {
		g.endProofTests()
		return
	}
	for i := range g.benches {
		if g.benches[i].pump {
			g.trip(i, HandsIn, false, handsInDetail)
		}
	}
	g.openAll()
}

const handsInDetail = "a person works in the bench"

// ProofTest begins or ends the proof test of a bench: while it lasts its
// switches may change without tripping or latching anything. It is done under
// hands-in, between floods, and ends with hands-in.
func (g *Guard) ProofTest(now Now, bench int, on bool) error {
	g.now = now
	b, err := g.bench(bench)
	switch {
	case err != nil:
		return fmt.Errorf("proof test: %w", err)
	case on && !g.handsIn:
		return fmt.Errorf("proof test: bench %q is not under hands-in; give hands-in first", b.Name)
	case on && g.unsettled(b.Reservoir):
		return fmt.Errorf("proof test: reservoir %q waits for the water of a flood; wait until its benches have drained", g.tanks[b.Reservoir].Name)
	case on:
		b.proof = true
	default:
		g.endProofTest(b)
	}
	return nil
}

// unsettled reports whether water of reservoir k is still to come home.
func (g *Guard) unsettled(k int) bool {
	for i := range g.benches {
		if b := &g.benches[i]; b.Reservoir == k && b.run.water == Standing {
			return true
		}
	}
	return false
}

func (g *Guard) endProofTests() {
	for i := range g.benches {
		g.endProofTest(&g.benches[i])
	}
}

// endProofTest has the switches read anew: what they show now is no longer the
// test. Until they are, none counts as read.
func (g *Guard) endProofTest(b *bench) {
	if !b.proof {
		return
	}
	b.proof = false
	for _, p := range b.sensors() {
		p.forget()
	}
	if tank := &g.tanks[b.Reservoir]; tank.Low {
		tank.low.forget()
	}
	g.again = true
}

func (g *Guard) bench(i int) (*bench, error) {
	if i < 0 || i >= len(g.benches) {
		return nil, fmt.Errorf("no bench %d; there are %d", i, len(g.benches))
	}
	return &g.benches[i], nil
}
