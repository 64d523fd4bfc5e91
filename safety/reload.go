package safety

// thisProgram names the boot where the program that saved a state is the one
// that goes on with it.
const thisProgram = "this program"

// Reloaded returns the guard that goes on in this program under other limits.
// It is for a moment between floods with every output off. A reload is no
// program start: what the guard counts, what its switches showed and where the
// water of a bench stands go on for what has kept its name.
func (g *Guard) Reloaded(l Limits, now Now) *Guard {
	s := g.State()
	s.Boot = thisProgram
	for i := range l.Benches {
		if b, known := s.Benches[l.Benches[i].Name]; known {
			b.Homing = false // its run goes on, and the water of that
			s.Benches[l.Benches[i].Name] = b
		}
	}
	n := New(l, s, now, thisProgram)
	n.boot, n.program, n.storm.ran = g.boot, g.program, g.storm.ran
	n.button, n.handsIn = g.button, g.handsIn
	if n.click.free = g.click.free; g.click.on { // with every output off its relay drops now
		n.click.free = now.Mono + EnableLag
	}
	for i := range n.benches {
		if old := named(g.benches, func(b *bench) bool { return b.Name == n.benches[i].Name }); old != nil {
			n.benches[i].goOn(old)
		}
	}
	for k := range n.tanks {
		t := &n.tanks[k]
		if old := named(g.tanks, func(o *reservoir) bool { return o.Name == t.Name }); old != nil {
			t.goOn(old)
		}
	}
	for k := range n.stirrers {
		t := &n.stirrers[k]
		name := l.Outputs[t.Output].Name
		if old := named(g.stirrers, func(o *stirrer) bool { return g.lim.Outputs[o.Output].Name == name }); old != nil {
			t.used, t.spent = old.used, old.spent
		}
	}
	n.survey()
	return n
}

// named returns the first of list that is the one looked for, nil without it.
func named[T any](list []T, is func(*T) bool) *T {
	for i := range list {
		if is(&list[i]) {
			return &list[i]
		}
	}
	return nil
}

// goOn takes over what the guard before a reload knew of the reservoir.
func (t *reservoir) goOn(old *reservoir) {
	if t.Low { // that of one which was not fitted is as new
		t.low = old.low
	}
	if old.Thermometer && t.Thermometer {
		t.warmth = old.warmth
	}
}

// goOn takes over what the guard before a reload knew of the bench beyond its
// state. The rest between runs is that of the old limits or the new, whichever is
// longer.
func (b *bench) goOn(old *bench) {
	was := old.sensors()
	for n, p := range b.sensors() {
		if p.fitted { // that of one which was not is as new
			*p.filter = *was[n].filter
		}
	}
	b.run, b.proof = old.run, old.proof
	b.rest = max(old.rest, old.run.stopped+b.Drain)
	if b.runs.len() > 0 {
		b.rest = max(b.rest, b.runs.back(0).Stop+b.minRest())
	}
}
