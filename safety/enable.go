package safety

import (
	"cmp"
	"time"
)

// EnableLag is how long an enable relay stays closed after the pump relay, so
// that the pump relay breaks the current.
const EnableLag = time.Second

// relay is what the guard knows of one enable relay.
type relay struct {
	open    bool   // it has to be open in this turn
	welded  *bench // the first behind it whose pump is proven welded; nil without one
	judging *bench // the first suspected of that: nothing closes the relay before it is known
	high    *bench // the first whose HIGH shows water
}

// note notes what a bench behind the relay says of it.
func (r *relay) note(b *bench) {
	if b.weld {
		r.welded = cmp.Or(r.welded, b)
	}
	if b.run.judging {
		r.judging = cmp.Or(r.judging, b)
	}
	if b.high.anyWet() {
		r.high = cmp.Or(r.high, b)
	}
}

// relay returns what is known of enable relay e, and nothing of the one that a
// bench without has.
func (g *Guard) relay(e int) relay {
	if e < 0 {
		return relay{}
	}
	return g.relays[e]
}

// allowEnable decides on the enable relays: each is closed while a pump behind
// it runs and, after a run, until FULL clears.
func (g *Guard) allowEnable(c *Command) {
	for i := range g.benches {
		if b := &g.benches[i]; b.pump || b.holdsEnable(g.now.Mono) {
			g.closeEnable(b.enable, c)
		}
	}
	for k := range g.stirrers {
		if s := &g.stirrers[k]; s.on {
			g.closeEnable(s.enable, c)
		}
	}
}

// closeEnable closes enable relay e, where there is one, unless it has to be
// open in this turn.
func (g *Guard) closeEnable(e int, c *Command) {
	if e >= 0 && !g.relays[e].open {
		c.set(e)
	}
}

// holdsEnable reports whether the bench keeps its enable relay closed after a
// run. It never closes one again, nor once FULL has cleared.
func (b *bench) holdsEnable(now time.Duration) bool {
	b.run.held = b.run.held && (now < b.run.stopped+EnableLag || b.full.Level == Wet)
	return b.run.held
}

// openEnable opens enable relay e at once, with every pump behind it. Runs of
// other benches than by trip.
func (g *Guard) openEnable(e, by int, why Interlock, detail string) {
	if e < 0 {
		return
	}
	g.relays[e].open = true
	for i := range g.benches {
		if b := &g.benches[i]; b.enable == e {
			if b.pump && i != by {
				g.trip(i, why, false, detail)
			}
			b.run.held = false
		}
	}
	for k := range g.stirrers {
		if g.stirrers[k].enable == e {
			g.stirrers[k].halt(g.now.Mono)
		}
	}
}

// openAll opens every enable relay and halts every stirrer; runs have ended before.
func (g *Guard) openAll() {
	for k := range g.stirrers {
		g.stirrers[k].halt(g.now.Mono)
	}
	for e := range g.relays {
		g.relays[e].open = true
	}
	for i := range g.benches {
		g.benches[i].run.held = false
	}
}

// opensEnable reports whether a run that this interlock ends may not keep its
// enable relay closed until FULL clears.
func opensEnable(why Interlock) bool {
	switch why {
	case HighLevel, LeakFound, HandsIn, Stalled, Stale:
		return true
	}
	return false
}
