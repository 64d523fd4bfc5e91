package config

import (
	"slices"

	"benchtide/controller/quantity"
)

// Substrate is what fills the pots: shares of its volume after it has drained
// in a pot (container capacity) and what is air then.
type Substrate struct {
	Name     string
	Capacity quantity.Fraction // water held at container capacity
	Air      quantity.Fraction // air left at container capacity
}

// substrates are those the file may name. Peat, bark and wood: International
// Journal of Agronomy 2012:978528, table 1 (wood: residual of the 4.8 mm
// screen). Rockwool: Acta Agrophysica 10:113, 2007, derived from its mass
// figures. Coir and perlite: the middle of the ranges of Raviv & Lieth,
// Soilless Culture, from memory, with air from a total porosity of 95 %.
var substrates = []Substrate{
	{Name: "peat", Capacity: 0.87, Air: 0.11},
	{Name: "bark", Capacity: 0.48, Air: 0.31},
	{Name: "wood", Capacity: 0.57, Air: 0.28},
	{Name: "rockwool", Capacity: 0.864, Air: 0.09},
	{Name: "coir", Capacity: 0.70, Air: 0.25},
	{Name: "perlite", Capacity: 0.375, Air: 0.575},
}

// Substrates lists what the file may name as substrate.
func Substrates() []Substrate { return slices.Clone(substrates) }
