package config

import (
	"slices"
	"time"

	"benchtide/controller/sheet"
	"benchtide/schedule/demand"
)

// Substrate is what fills the pots.
type Substrate struct {
	Name string
	demand.Substrate
}

// Columns in which substrates are measured: the porometer of most tables is 7.6 cm
// high (from memory), and mineral wool was drained against 10 cm of water, as the
// middle of a column of 20 cm is.
const (
	porometer demand.Metres = 0.076
	drained   demand.Metres = 0.2
)

// coarse is how long what has few fine pores takes to drink (common practice, no
// source), and wool how long mineral wool does (the same).
const (
	coarse = 5 * time.Minute
	wool   = 90 * time.Second
)

// substrates are those the file may name. Peat, bark and wood: International
// Journal of Agronomy 2012:978528, table 1 (wood: residual of the 4.8 mm
// screen). Rockwool: Acta Agrophysica 10:113, 2007, derived from its mass
// figures. Coir and perlite: the middle of the ranges of Raviv & Lieth,
// Soilless Culture, from memory, with air from a total porosity of 95 %.
var substrates = []Substrate{
	{"peat", demand.Substrate{Water: 0.87, Air: 0.11, Column: porometer, Drinks: demand.UsualDrinks}},
	{"bark", demand.Substrate{Water: 0.48, Air: 0.31, Column: porometer, Drinks: coarse}},
	{"wood", demand.Substrate{Water: 0.57, Air: 0.28, Column: porometer, Drinks: coarse}},
	{"rockwool", demand.Substrate{Water: 0.864, Air: 0.09, Column: drained, Drinks: wool}},
	{"coir", demand.Substrate{Water: 0.70, Air: 0.25, Column: porometer, Drinks: demand.UsualDrinks}},
	{"perlite", demand.Substrate{Water: 0.375, Air: 0.575, Column: porometer, Drinks: coarse}},
}

// Substrates lists what the file may name as substrate.
func Substrates() []Substrate { return slices.Clone(substrates) }

// holds is the share of water that pots of this substrate hold: as their height has
// it, where that is known.
func (s Substrate) holds(p sheet.Pots) float64 {
	if !p.Known() {
		return s.Water
	}
	return s.Capacity(demand.Metres(p.Height()))
}
