package safety

import (
	"fmt"
	"time"
)

// LongestClick is how long one click may energise a relay: long enough to hear
// it and to see its lamp, too short for a pump that was left plugged in to fill
// a table.
const LongestClick = 2 * time.Second

// click is one relay that a person makes click under hands-in, to see that it
// does. Nothing else in a pump circuit is energised then.
type click struct {
	on     bool
	output int
	until  time.Duration
	free   time.Duration // when the next may begin: the relay has dropped by then
}

// Click energises one output, for LongestClick at most, or lets it go. It is
// allowed under hands-in alone, where nothing runs and every enable relay is
// open, and one output at a time, EnableLag apart: so no pump circuit closes
// where an enable relay is fitted. Without one a click runs the pump, so a
// person has to have unplugged it. A click ends with hands-in, when HIGH or a
// floor sensor shows water, and when its time is up.
//
// Under a proof test the HIGH that is tested does not keep its enable relay
// from clicking: whether its own wire does is what the test is about.
func (g *Guard) Click(now Now, output int, on bool) error {
	g.now = now
	if output < 0 || output >= len(g.lim.Outputs) {
		return fmt.Errorf("click: no output %d; there are %d", output, len(g.lim.Outputs))
	}
	if !on {
		g.endClick()
		return nil
	}
	name, why := g.lim.Outputs[output].Name, g.noClick(output)
	switch {
	case g.click.on:
		return fmt.Errorf("click %q: %q clicks; let it go first", name, g.lim.Outputs[g.click.output].Name)
	case now.Mono < g.click.free:
		return fmt.Errorf("click %q: the last relay may not have dropped yet; wait %s", name, Spell(EnableLag))
	case why != "":
		return fmt.Errorf("click %q: %s", name, why)
	}
	g.click = click{on: true, output: output, until: now.Mono + LongestClick}
	g.again = true
	return nil
}

func (g *Guard) endClick() {
	if g.click.on {
		g.click.on, g.click.free, g.again = false, g.now.Mono+EnableLag, true
	}
}

// allowClick decides on the click under way.
func (g *Guard) allowClick() bool {
	if g.click.on && (g.now.Mono >= g.click.until || g.noClick(g.click.output) != "") {
		g.endClick()
	}
	return g.click.on
}

// noClick says why an output may not click now; empty when it may.
func (g *Guard) noClick(output int) string {
	kind := g.lim.Outputs[output].Kind
	switch {
	case !g.handsIn:
		return "no hands-in; give hands-in first"
	case kind == Other:
		return ""
	}
	enable := kind == Enable
	for i := range g.benches {
		b := &g.benches[i]
		tested := enable && b.proof
		switch {
		case enable && b.enable == output && (b.weld || b.run.judging):
			return fmt.Sprintf("the pump relay of bench %q may be welded; pull its plug, replace the relay and reset the bench", b.Name)
		case !tested && b.high.anyWet():
			return b.text.high
		case !tested && b.leak.anyWet():
			return b.text.leak
		}
	}
	return ""
}
