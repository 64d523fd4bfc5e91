package sim

import (
	"math"
	"time"

	"benchtide/schedule/demand"
)

// How pots and plants behave; see also Substrates. No source unless named.
const (
	contactDepth = 0.002 // m of water from which a pot drinks
	moist        = 0.6   // share of container capacity below which rewetting slows
	scatter      = 0.15  // by which plants use more or less than is worked out
)

// sip works out what every pot that stands in water drinks in s seconds: it
// nears container capacity, slower the drier it is.
func (w *World) sip(s float64) {
	for _, i := range w.active {
		b := &w.benches[i]
		b.drinking = 0
		wet := b.basin.depth(w.Benches[i].Litres) >= contactDepth
		for _, n := range b.pots {
			p := &w.pots[n]
			p.sip = 0
			if wet && w.Pots[n].OnTable {
				p.sip = p.drinks(w.Pots[n].Litres, s)
				b.drinking += p.sip / s
			}
		}
	}
}

func (p *pots) drinks(litres, s float64) float64 {
	missing := p.capacity - litres
	if missing <= 0 {
		return 0
	}
	willing := p.Substrate.Rewets + (1-p.Substrate.Rewets)*min(1, litres/(moist*p.capacity))
	return missing * -math.Expm1(-s*willing/p.Substrate.Uptake.Seconds())
}

// drank shares out among a table's pots what left the table into them.
func (w *World) drank(bench int, litres float64) {
	var wanted float64
	for _, n := range w.benches[bench].pots {
		wanted += w.pots[n].sip
	}
	if wanted == 0 {
		return
	}
	for _, n := range w.benches[bench].pots {
		w.Pots[n].Litres += litres * w.pots[n].sip / wanted
	}
}

// live lets plants use water and the solution take the temperature of its room.
func (w *World) live(from, dt time.Duration) {
	use := w.cfg.Weather.Use(from, from+dt)
	if w.cfg.Lamps != nil {
		use += w.cfg.Lamps(from, from+dt)
	}
	use *= w.air
	for i := range w.pots {
		if w.Pots[i].OnTable && use > 0 {
			w.use(i, use, from)
		}
		w.suffer(i, from, dt)
	}
	room := w.cfg.Weather.Solution(from + dt/2)
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		near := -math.Expm1(-float64(dt) / float64(r.lag))
		target := room + r.warm*(heatwave-room) + r.chill*(frost-room)
		w.Reservoirs[i].Celsius += (target - w.Reservoirs[i].Celsius) * near
	}
}

// factor is the crop's on the day of its age, remembered for that day.
func (p *pots) factor(at time.Duration) float64 {
	if age := int(math.Floor(float64(at-p.Planted) / float64(day))); p.fresh || p.age != age {
		p.age, p.grown, p.fresh = age, p.growth.factor(p.Crop, age), false
	}
	return p.grown
}

// use takes what plants of an age want of their pots; what comes hard comes
// slower, as demand.Pot has it.
func (w *World) use(i int, perArea float64, at time.Duration) {
	p, s := &w.pots[i], &w.Pots[i]
	wanted := perArea * p.canopy * p.factor(at) * p.thirst
	used := min(s.Litres, s.Litres-float64(p.holds.Used(demand.Litres(s.Litres), demand.Litres(wanted))))
	s.Litres -= used
	w.Totals.Used += used
	s.Lowest = min(s.Lowest, s.Litres/p.capacity)
}
