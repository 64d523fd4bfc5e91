package safety

// survey looks once at every bench for what each of them would else have to ask
// of all the others: what is behind an enable relay, and where the water of a
// reservoir is. It comes after every check of a turn, so it holds for Allow,
// where start adds its water and a trip at the limit has it taken anew.
func (g *Guard) survey() {
	for e := range g.relays {
		g.relays[e] = relay{open: g.relays[e].open}
	}
	for k := range g.tanks {
		g.tanks[k].standing, g.tanks[k].givenUp = nil, 0
	}
	for i := range g.benches {
		b := &g.benches[i]
		g.tanks[b.Reservoir].note(b)
		if b.enable >= 0 {
			g.relays[b.enable].note(b)
		}
	}
}
