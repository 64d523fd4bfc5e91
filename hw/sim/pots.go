package sim

import (
	"math"
	"time"
)

// How pots and plants behave; see also Substrates. No source unless named.
const (
	contactDepth = 0.002 // m of water from which a pot drinks
	moist        = 0.6   // share of container capacity below which rewetting slows
	wilted       = 0.1   // share of container capacity that plants cannot take
	seedling     = 0.1   // share of a full canopy's use at transplant: 10–20 %, common practice
	canopyAge    = 42    // days from transplant to a full canopy
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
			if wet && w.Pots[n].Standing {
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
	for i := range w.pots {
		if w.Pots[i].Standing && use > 0 {
			w.use(i, use, from)
		}
	}
	const lag = 6 * time.Hour // of a tank behind its room
	room := w.cfg.Weather.Solution(from + dt/2)
	near := -math.Expm1(-float64(dt) / float64(lag))
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		target := room + r.warm*(heatwave-room) + r.chill*(frost-room)
		w.Reservoirs[i].Celsius += (target - w.Reservoirs[i].Celsius) * near
	}
}

func (w *World) use(i int, perArea float64, at time.Duration) {
	p, s := &w.pots[i], &w.Pots[i]
	days := float64(at-p.Planted) / float64(day)
	grown := seedling + (1-seedling)*min(1, max(0, days/canopyAge))
	used := min(perArea*p.canopy*grown, max(0, s.Litres-wilted*p.capacity))
	s.Litres -= used
	w.Totals.Used += used
	s.Lowest = min(s.Lowest, s.Litres/p.capacity)
}
