package sim

import (
	"math"
	"time"
)

// Weather drives the plants and the temperature of the solution. Times count
// from the start of the world.
type Weather interface {
	// Use is the water that a full canopy uses between two instants, L/m².
	Use(from, to time.Duration) float64
	// Solution is the temperature in °C that solution left alone tends to.
	Solution(at time.Duration) float64
}

// Climate is a kind of weather.
type Climate struct {
	Peak     float64 // L/m² that a full canopy uses on the brightest day
	Dullest  float64 // the darkest day's share of it
	Mean     float64 // °C of the solution over a day
	Swing    float64 // °C up and down from it within a day
	Changing float64 // °C that the mean of one day may differ
}

// Climates. Peak use under glass is 12–16 L/m² a day (UMass Extension, sizing
// the greenhouse water system); winter is a half to a third of summer. The rest
// is common practice, no source: solution is kept at 12–26 °C.
var (
	Mild   = Climate{Peak: 9, Dullest: 0.4, Mean: 16, Swing: 1.5, Changing: 1.5}
	Normal = Climate{Peak: 13, Dullest: 0.4, Mean: 19, Swing: 2, Changing: 2}
	Hot    = Climate{Peak: 16, Dullest: 0.6, Mean: 22, Swing: 2, Changing: 1.5}
)

// Days are days of one climate, each as bright as a draw from Seed says, with
// light from six in the morning to eight in the evening.
type Days struct {
	Climate Climate
	Seed    uint64
	Offset  time.Duration // time of day when the world starts, 0 to 24 h
}

const (
	day  = 24 * time.Hour
	dawn = 6 * time.Hour
	dusk = 20 * time.Hour
)

// Use follows half a sine from dawn to dusk on each day.
func (d Days) Use(from, to time.Duration) float64 {
	from, to = from+d.Offset, to+d.Offset
	var sum float64
	for n := from / day; n*day < to; n++ {
		share := sunShare(min(to-n*day, day)) - sunShare(max(from-n*day, 0))
		if share > 0 {
			sum += share * d.bright(n) * d.Climate.Peak
		}
	}
	return sum
}

// sunShare is the share of a day's sun that has passed at a time of day.
func sunShare(at time.Duration) float64 {
	switch {
	case at <= dawn:
		return 0
	case at >= dusk:
		return 1
	}
	return (1 - math.Cos(math.Pi*float64(at-dawn)/float64(dusk-dawn))) / 2
}

func (d Days) bright(n time.Duration) float64 {
	return d.Climate.Dullest + (1-d.Climate.Dullest)*unit(d.Seed, uint64(n))
}

// Solution is warmest at four in the afternoon.
func (d Days) Solution(at time.Duration) float64 {
	at += d.Offset
	n := at / day
	phase := 2 * math.Pi * float64(at-n*day-16*time.Hour) / float64(day)
	return d.Climate.Mean + d.Climate.Changing*(2*d.between(at)-1) + d.Climate.Swing*math.Cos(phase)
}

// between goes from one day's draw to the next without a step.
func (d Days) between(at time.Duration) float64 {
	n := at / day
	x := float64(at-n*day) / float64(day)
	return (1-x)*unit(d.Seed+1, uint64(n)) + x*unit(d.Seed+1, uint64(n+1))
}

// unit draws from [0, 1) for a seed and a number, by the finaliser of SplitMix64
// (Steele, Lea, Flood, OOPSLA 2014; constants from memory), so that a day's
// weather does not depend on what was asked before.
func unit(seed, n uint64) float64 {
	x := seed*0x9e3779b97f4a7c15 + (n+1)*0xbf58476d1ce4e5b9
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return float64((x^x>>31)>>11) / (1 << 53)
}
