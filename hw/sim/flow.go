package sim

import "math"

// flow works out every link of a table that holds litres while its reservoir
// holds stock.
func (b *bench) flow(r *reservoir, litres, stock float64, l *links) {
	*l = links{drink: b.drinking}
	depth := b.basin.depth(litres)
	drawdown := (float64(r.Usable) - stock) / (1000 * float64(r.Area))
	if b.turning {
		q := b.supply.at(float64(b.Supply.Lift)+drawdown+depth) * b.speed * b.run.speed * r.cover(stock)
		l[up], l[lost] = q*(1-b.hose), q*b.hose
	}
	b.overflow(depth, l)
	b.runBack(depth, drawdown, l)
	if b.leak > 0 {
		l[leak] = b.leak * b.hole * math.Sqrt(depth)
	}
	if litres <= 0 {
		l.notMoreThanComes()
	}
}

// overflow is what passes the crest, as a weir and then as an orifice, and the
// edge of the table.
func (b *bench) overflow(depth float64, l *links) {
	crest := float64(b.Crest)
	if b.missing {
		crest = 0
	}
	if h := depth - crest; h > 0 {
		l[over] = b.open * min(b.weir*h, b.drowned) * math.Sqrt(h)
	}
	if h := depth + math.Abs(b.tilt) - float64(b.Rim); h > 0 {
		l[rim] = b.rim * h * math.Sqrt(h)
	}
}

// runBack is what leaves below the crest: through the idle pump or the
// drain, as far as the mouth takes it, and out of the fitting of a lost hose.
func (b *bench) runBack(depth, drawdown float64, l *links) {
	if b.Drain.ThroughPump && b.hose > 0 && depth > 0 {
		l[gap] = b.hose * min(b.hoseW*depth, b.hoseO) * math.Sqrt(depth)
	}
	kept := b.open
	switch {
	case b.valve >= 0:
		kept *= b.valve
	case b.spinning && !b.Drain.Always:
		return
	}
	if b.Drain.ThroughPump {
		kept *= 1 - b.hose
		drawdown = max(drawdown, -b.backDrop)
	} else {
		drawdown = 0 // falls freely
	}
	h := depth + float64(b.Drain.Sump)
	l[back] = kept * min(b.mouth*h*math.Sqrt(h), b.back.at(b.backDrop+drawdown+depth))
}

// notMoreThanComes holds the outflow of a bare table to what comes in.
func (l *links) notMoreThanComes() {
	out := l[up] - l.table()
	if out <= l[up] {
		return
	}
	share := l[up] / out
	for n := over; n < nLinks; n++ {
		l[n] *= share
	}
}

// cover says how much of a pump's flow the intake still gets: all of it down to
// the intake, none a tenth of that lower.
func (r *reservoir) cover(stock float64) float64 {
	return min(1, max(0, (stock-0.9*r.intake)/(0.1*r.intake)))
}

// pour moves the water of one table's tried step, and the salt in it.
func (w *World) pour(bench int, s float64) {
	b, t := &w.benches[bench], &w.Benches[bench]
	r := &w.Reservoirs[b.Reservoir]
	var m links
	for n := range m {
		m[n] = b.mean(n) * s
	}
	out := m[up] - m.table()
	if all := t.Litres + m[up]; out > all {
		for n := over; n < nLinks; n++ {
			m[n] *= all / out
		}
		out = all
	}
	saltUp := strength(r.Salt, r.Litres)
	saltOut := strength(t.Salt+saltUp*m[up], t.Litres+m[up])
	t.Litres += m[up] - out
	t.Salt += saltUp*m[up] - saltOut*out
	r.Litres += m.reservoir()
	r.Salt += saltOut*(m[over]+m[back]) - saltUp*(m[up]+m[lost])
	if t.Litres <= 1e-12 {
		t.Litres, t.Salt = 0, 0
	}
	if b.turning && w.reservoirs[b.Reservoir].cover(r.Litres) < 0.05 {
		t.Air, b.turning = true, false
	}
	w.drank(bench, m[drink])
	w.book(bench, &m)
}

// strength is salt over water; water without any has none.
func strength(salt, litres float64) float64 {
	if litres <= 0 {
		return 0
	}
	return salt / litres
}

// book keeps the totals of what a table's step moved.
func (w *World) book(bench int, m *links) {
	t, floor := &w.Benches[bench], m.floor()
	t.Floor += floor + m[lost]
	t.Spilled += floor + m[lost]
	w.Totals.Moved += m[up] + m[lost]
	w.Totals.TableToFloor += floor
	w.Totals.HoseToFloor += m[lost]
	w.Totals.Spilled += floor + m[lost]
}

// tankLeak is a reservoir leak at full size, L/s: 20 L an hour.
const tankLeak = 20.0 / 3600

// losses sets what a reservoir loses by itself in a step of s seconds, never
// more than it holds.
func (w *World) losses(i int, s float64) {
	r := &w.reservoirs[i]
	r.leaking, r.drying = r.leak*tankLeak, float64(r.Evaporation)/86400
	if all := (r.leaking + r.drying) * s; all > max(0, w.Reservoirs[i].Litres) {
		share := max(0, w.Reservoirs[i].Litres) / all
		r.leaking, r.drying = r.leaking*share, r.drying*share
	}
	r.floored = r.leaking * s
}

// lose takes them, and lets a reservoir that is too full run over.
func (w *World) lose(i int, s float64) {
	r, t := &w.reservoirs[i], &w.Reservoirs[i]
	c := strength(t.Salt, t.Litres)
	t.Litres -= (r.leaking + r.drying) * s
	t.Salt -= c * r.leaking * s
	w.Totals.Evaporated += r.drying * s
	w.tankSpills(i, r.leaking*s)
	w.brim(i)
}

// brim spills what stands above a reservoir's capacity.
func (w *World) brim(i int) {
	t := &w.Reservoirs[i]
	if over := t.Litres - float64(w.reservoirs[i].Capacity); over > 0 {
		t.Salt -= over * strength(t.Salt, t.Litres)
		t.Litres -= over
		w.tankSpills(i, over)
	}
}

// tankSpills books water that left a reservoir to the floor, where it wets the
// pads of the benches above.
func (w *World) tankSpills(reservoir int, litres float64) {
	if litres == 0 {
		return
	}
	w.Reservoirs[reservoir].Spilled += litres
	w.Totals.TankToFloor += litres
	w.Totals.Spilled += litres
	for i := range w.benches {
		if w.benches[i].Reservoir == reservoir {
			w.Benches[i].Floor += litres
		}
	}
}
