package safety

// Lost says that the board did not obey the last Command: every run ends, as
// with a switch that cannot be read, and the enable relay opens.
func (g *Guard) Lost(now Now, detail string) {
	g.now = now
	ended := false
	for i := range g.benches {
		b := &g.benches[i]
		if !b.pump {
			continue
		}
		ended = true
		b.stales = recent(b.stales, now.Mono, day)
		g.trip(i, Stale, len(b.stales) > 1, "the board did not obey: "+detail)
	}
	g.endClick()
	g.openAll()
	g.again = g.again || ended
}

// Overtaken says that a turn was so late that every output was put off from
// outside, whatever the last Command: every run ends, and its bench latches.
func (g *Guard) Overtaken(now Now) {
	g.now = now
	g.endClick()
	if !g.pumping() {
		return
	}
	g.stall("the program did not come back in time with a pump on, and every output was put off")
	g.again = true
}
