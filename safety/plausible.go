package safety

import (
	"fmt"
	"time"
)

// checkPlausible latches what water cannot do.
func (g *Guard) checkPlausible(i int) {
	b := &g.benches[i]
	if b.proof {
		return
	}
	g.checkHighAlone(i)
	g.checkRise(i)
	g.checkChatter(i)
	g.checkIdleWater(i)
}

// checkHighAlone finds HIGH made over a dry FULL. A HIGH that cannot be read
// says nothing of the water.
func (g *Guard) checkHighAlone(i int) {
	b := &g.benches[i]
	dry := b.full.Level == Dry && b.full.raw == Dry
	if b.high.raw == Wet && !b.high.fault && b.high.persists(g.now.Mono) && dry && !b.holds(Implausible) {
		g.trip(i, Implausible, true, "HIGH shows water and FULL does not: look at both switches and their wires")
	}
}

// checkRise finds FULL made with its own pump long off, or while nothing but a
// stirrer runs behind the enable relay: its pump relay may be welded.
func (g *Guard) checkRise(i int) {
	b := &g.benches[i]
	if b.pump || !b.full.changed || b.full.Level != Wet || b.full.Since <= b.run.stopped {
		return
	}
	stirred := g.onlyStirred(b.enable)
	if b.full.Since <= b.rest && !stirred {
		return
	}
	detail := "FULL was made with the pump off"
	if stirred {
		detail = "FULL was made while only a stirrer ran"
	}
	g.trip(i, Implausible, true, detail)
	g.openEnable(b.enable, i, Implausible, detail)
}

// onlyStirred reports whether stirrers are all that runs behind enable relay e.
func (g *Guard) onlyStirred(e int) bool {
	for i := range g.benches {
		if b := &g.benches[i]; b.enable == e && b.pump {
			return false
		}
	}
	for k := range g.stirrers {
		if s := &g.stirrers[k]; e >= 0 && s.enable == e && s.on {
			return true
		}
	}
	return false
}

// checkChatter finds a switch that changes more often than a flood can make it.
func (g *Guard) checkChatter(i int) {
	b := &g.benches[i]
	window := max(b.Fill+b.Fall, MinFallLimit)
	for _, p := range b.sensors() {
		if p.chatters(window) && !b.holds(Chatter) {
			g.chattered(i, p.name, window)
		}
	}
	if g.tanks[b.Reservoir].low.chatters(window) && !g.testing(b.Reservoir) && !b.holds(Chatter) {
		g.chattered(i, "low", window)
	}
}

func (g *Guard) chattered(i int, name string, window time.Duration) {
	g.trip(i, Chatter, true, fmt.Sprintf("switch %q changed more than %d times within %s", name, chatterLimit, Spell(window)))
}

// checkIdleWater latches water that came without a run and stays.
func (g *Guard) checkIdleWater(i int) {
	b := &g.benches[i]
	if b.pump || len(b.latched) > 0 {
		return
	}
	switch {
	case g.idleWet(b, &b.full, b.FallLimit()):
		g.trip(i, NotEmpty, true, fmt.Sprintf("FULL has shown water for %s with the pump off", Spell(b.FallLimit())))
	case g.idleWet(b, &b.empty, half3(b.Drain)):
		g.trip(i, NotEmpty, true, fmt.Sprintf("EMPTY has shown water for %s with the pump off", Spell(half3(b.Drain))))
	}
}

// idleWet reports whether a switch was made after the last stop and has stayed so.
func (g *Guard) idleWet(b *bench, f *filter, limit time.Duration) bool {
	return f.Since > b.run.stopped && g.overdue(f, f.Since+limit)
}
