package safety

// ColdLimit is the temperature of the solution at and below which nothing is
// pumped: ice may have formed. Common practice, no source.
const ColdLimit Celsius = 2

// sensor is one switch of a bench.
type sensor struct {
	*filter
	name    string
	fitted  bool
	faultAs Level // what a failed reading reads as; Absent holds the last level
}

// sensors are the switches of a bench, in the order of BenchReadings.sensors.
func (b *bench) sensors() [4]sensor {
	return [4]sensor{
		{&b.full, "full", b.Full, Absent},
		{&b.high, "high", b.High, Wet},
		{&b.empty, "empty", b.Empty, Absent},
		{&b.leak, "leak", b.Leak, Wet},
	}
}

func (r *BenchReadings) sensors() [4]Reading { return [4]Reading{r.Full, r.High, r.Empty, r.Leak} }

// read filters every fitted switch and tells of those that changed.
func (g *Guard) read(r *Readings) {
	now := g.now.Mono
	for k := range g.tanks {
		g.readTank(k, &r.Reservoirs[k])
	}
	for i := range g.benches {
		readings := r.Benches[i].sensors()
		for n, p := range g.benches[i].sensors() {
			if !p.fitted {
				continue
			}
			p.observe(now, readings[n], p.faultAs)
			if p.changed {
				g.tellChange(p.filter, Event{Bench: i, Switch: p.name}, g.benches[i].proof)
			}
		}
	}
	if r.HandsIn.Level != Absent {
		g.button.observe(now, r.HandsIn, Wet)
	}
}

func (g *Guard) readTank(k int, r *ReservoirReadings) {
	t := &g.tanks[k]
	if t.Thermometer {
		t.warmth.observe(g.now.Mono, r.Temperature, r.TemperatureOK)
		t.cold = t.warmth.cold(g.now.Mono)
	}
	if t.Level {
		t.level.observe(g.now.Mono, r.Level, Dry)
		if t.level.changed {
			g.tellChange(&t.level, Event{Bench: -1, Reservoir: k, Switch: "level"}, g.testing(k))
		}
	}
	if t.Low {
		t.low.observe(g.now.Mono, r.Low, Dry)
		if t.low.changed {
			g.tellChange(&t.low, Event{Bench: -1, Reservoir: k, Switch: "low"}, g.testing(k))
		}
	}
}

// tellChange emits e for the filtered level of f, which changed in this turn.
func (g *Guard) tellChange(f *filter, e Event, proof bool) {
	e.Kind, e.Level = SwitchChanged, f.Level
	if proof {
		e.Kind = ProofTested
	}
	g.emit(e)
}

// testing reports whether a bench of reservoir k is under proof test.
func (g *Guard) testing(k int) bool {
	for i := range g.benches {
		if g.benches[i].Reservoir == k && g.benches[i].proof {
			return true
		}
	}
	return false
}
