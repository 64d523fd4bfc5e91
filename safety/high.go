package safety

// highTimes is how often HIGH may be made within 24 h before it latches.
const highTimes = 3

// checkHigh acts on HIGH in the turn it is made or can no longer be read:
// every pump behind its enable relay and the relay itself go off.
func (g *Guard) checkHigh(i int) {
	b := &g.benches[i]
	if b.high.raw != Wet || b.proof {
		return
	}
	if b.high.fresh && !b.holds(HighLevel) {
		b.highs = recent(b.highs, g.now.Mono, day)
		g.dirty = true
	}
	g.alarm(i, &b.high, HighLevel, len(b.highs) >= highTimes, b.text.high)
}

// leakTimes is how often the floor may be wet within 24 h before it latches:
// drops that dry between two looks are water on the floor all the same.
const leakTimes = 3

// checkLeak does the same for a wet floor.
func (g *Guard) checkLeak(i int) {
	b := &g.benches[i]
	if b.leak.raw != Wet || b.proof {
		return
	}
	if b.leak.fresh && !b.holds(LeakFound) {
		b.leaks = recent(b.leaks, g.now.Mono, day)
		g.dirty = true
	}
	g.alarm(i, &b.leak, LeakFound, len(b.leaks) >= leakTimes, b.text.leak)
}

// alarm takes bench i and all behind its enable relay off for a raw wet
// switch, and latches the bench when that persists or latched says so.
func (g *Guard) alarm(i int, f *filter, why Interlock, latched bool, detail string) {
	b := &g.benches[i]
	latched = latched || f.persists(g.now.Mono) || f.flutters(g.now.Mono)
	if f.fresh || b.pump {
		g.trip(i, why, latched, detail)
	}
	if f.rose {
		g.openEnable(b.enable, i, why, detail)
	}
	if latched {
		g.latch(i, why, detail)
	}
}
