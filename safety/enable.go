package safety

import "time"

// EnableLag is how long an enable relay stays closed after the pump relay, so
// that the pump relay breaks the current.
const EnableLag = time.Second

// allowEnable decides on enable relay e: closed while a pump behind it runs
// and, after a run, until FULL clears.
func (g *Guard) allowEnable(e int) bool {
	closed := false
	for i := range g.benches {
		if b := &g.benches[i]; b.enable == e {
			closed = closed || b.pump || b.holdsEnable(g.now.Mono)
		}
	}
	for k := range g.stirrers {
		closed = closed || g.stirrers[k].on && g.stirrers[k].enable == e
	}
	closed = closed && !g.open[e]
	if !closed {
		g.releaseEnable(e)
	}
	return closed
}

// holdsEnable reports whether the bench keeps its enable relay closed after a
// run. It never closes one again.
func (b *bench) holdsEnable(now time.Duration) bool {
	b.run.held = b.run.held && (b.pump || now < b.run.stopped+EnableLag || b.full.Level == Wet)
	return b.run.held
}

func (g *Guard) releaseEnable(e int) {
	for i := range g.benches {
		if g.benches[i].enable == e {
			g.benches[i].run.held = false
		}
	}
}

// openEnable opens enable relay e at once, with every pump behind it. Runs of
// other benches than by trip.
func (g *Guard) openEnable(e, by int, why Interlock, detail string) {
	if e < 0 {
		return
	}
	g.open[e] = true
	for i := range g.benches {
		if b := &g.benches[i]; b.enable == e && b.pump && i != by {
			g.trip(i, why, false, detail)
		}
	}
	for k := range g.stirrers {
		if g.stirrers[k].enable == e {
			g.stirrers[k].halt(g.now.Mono)
		}
	}
	g.releaseEnable(e)
}

// openAll opens every enable relay and halts every stirrer; runs have ended before.
func (g *Guard) openAll() {
	for k := range g.stirrers {
		g.stirrers[k].halt(g.now.Mono)
	}
	for e, o := range g.lim.Outputs {
		if o.Kind == Enable {
			g.open[e] = true
			g.releaseEnable(e)
		}
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

// judging returns the bench behind enable relay e whose pump is suspected of
// being welded, or nil. Nothing closes the relay before that is known.
func (g *Guard) judging(e int) *bench {
	return g.behind(e, func(b *bench) bool { return b.run.judging })
}

// welded returns the bench behind enable relay e whose pump is proven welded, or nil.
func (g *Guard) welded(e int) *bench {
	return g.behind(e, func(b *bench) bool { return b.weld })
}

// highBehind returns a bench whose HIGH shows water behind enable relay e, or nil.
func (g *Guard) highBehind(e int) *bench {
	return g.behind(e, func(b *bench) bool { return b.high.anyWet() })
}

func (g *Guard) behind(e int, is func(*bench) bool) *bench {
	if e < 0 {
		return nil
	}
	for i := range g.benches {
		if b := &g.benches[i]; b.enable == e && is(b) {
			return b
		}
	}
	return nil
}
