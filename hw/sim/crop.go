package sim

import (
	"math"
	"time"
)

// Cause is what holds plants back or kills them.
type Cause int

// The causes.
const (
	Dry Cause = iota
	Wet
	Salt // a solution that is too strong for their age, or too weak
	Cold
	Dark
	Causes
)

// Harm is what a cause did to a batch.
type Harm struct {
	Delay float64 // days by which its plants are behind
	Lost  float64 // share of its plants that died
}

// Care is what a day brings to a batch beside its floods.
type Care struct {
	Night, Cold  float64 // °C of its coldest hour, and below which cold hurts the crop
	Light, Wants float64 // mol/m² of the day, and what the crop wants
	Strength     float64 // of the solution, as a share of full strength
}

// How plants suffer; all of it common practice, no source, but that growth falls in
// proportion below the water that is easy to take (FAO-56 eq. 84). What nature draws
// multiplies each rate.
const (
	wilts      = 0.45 // of the limit below which plants suffer: there they die in days
	dies       = 0.5  // share a day of plants in bone-dry pots
	soaked     = 0.93 // share of container capacity above which roots want air
	soakedSlow = 0.15 // days lost a day in it
	dampsOff   = 0.006
	young      = 21.0 // days until stems are hard and no seedling damps off
	grown      = 28.0 // days until plants bear, and want, full strength
	saltSlow   = 0.6  // days lost a day and share of strength beyond what plants bear
	burns      = 0.03 // share of seedlings that die so
	weakSlow   = 0.5  // days lost a day and share of strength that they want
	chillSlow  = 0.08 // days lost a day and °C
	chills     = 0.004
	darkSlow   = 0.8 // days lost a day without light
)

// suffer reckons how the plants of a batch fare in a time.
func (w *World) suffer(i int, at, dt time.Duration) {
	p, s := &w.pots[i], &w.Pots[i]
	if p.Care == nil || !s.OnTable {
		return
	}
	age := int(math.Floor(float64(at-p.Planted) / float64(day)))
	if !p.cared || p.careOn != age {
		p.cared, p.careOn, p.care = true, age, p.Care(age)
	}
	days, green := float64(dt)/float64(day), max(0, 1-float64(age)/young)
	add := func(c Cause, delay, lost float64) {
		h := &s.Harms[c]
		h.Delay += days * min(1, p.bears[c]*delay)
		h.Lost += (1 - h.Lost) * -math.Expm1(-days*p.bears[c]*lost)
	}
	water, limit := s.Litres/p.capacity, float64(p.holds.Threshold())/p.capacity
	switch wilting := wilts * limit; {
	case water < wilting:
		add(Dry, 1-water/limit, dies*(1-water/wilting))
	case water < limit:
		add(Dry, 1-water/limit, 0)
	case water > soaked:
		add(Wet, soakedSlow, dampsOff*green)
	}
	grows := min(1, max(0, float64(age)/grown))
	if over := p.care.Strength - (0.4 + 0.6*grows); over > 0 {
		add(Salt, saltSlow*over, burns*over*green)
	} else if under := 0.1 + 0.5*grows - p.care.Strength; under > 0 {
		add(Salt, weakSlow*under, 0)
	}
	if below := p.care.Cold - p.care.Night; below > 0 {
		add(Cold, chillSlow*below, chills*below)
	}
	if p.care.Light < p.care.Wants {
		add(Dark, darkSlow*(1-p.care.Light/p.care.Wants), 0)
	}
}
