package solution

import (
	"fmt"
	"strings"
)

// Elements are the plant foods in a solution, mg/L.
type Elements struct{ Nitrate, Ammonium, P, K, Ca, Mg, S float64 }

// Masses in g/mol (IUPAC, abridged, from memory). Nitrate and ammonium count
// as nitrogen.
const (
	massH, massN, massO                  = 1.008, 14.007, 15.999
	massP, massK, massCa, massMg, massS  = 30.974, 39.098, 40.078, 24.305, 32.06
	massNO3, massSO4, massH2PO4, massH2O = massN + 3*massO, massS + 4*massO, 2*massH + massP + 4*massO, 2*massH + massO
	massNH4                              = massN + 4*massH
)

// Salt is a salt that recipes are made of.
type Salt struct {
	Name string
	Mass float64  // g/mol, with its water of crystals
	ions Elements // mol of each element in a mol
}

// The salts of the usual recipes.
var (
	PotassiumNitrate   = Salt{"potassium nitrate", massK + massNO3, Elements{K: 1, Nitrate: 1}}
	CalciumNitrate     = Salt{"calcium nitrate tetrahydrate", massCa + 2*massNO3 + 4*massH2O, Elements{Ca: 1, Nitrate: 2}}
	PotassiumPhosphate = Salt{"potassium dihydrogen phosphate", massK + massH2PO4, Elements{K: 1, P: 1}}
	AmmoniumPhosphate  = Salt{"ammonium dihydrogen phosphate", massNH4 + massH2PO4, Elements{Ammonium: 1, P: 1}}
	MagnesiumSulphate  = Salt{"magnesium sulphate heptahydrate", massMg + massSO4 + 7*massH2O, Elements{Mg: 1, S: 1}}
	PotassiumSulphate  = Salt{"potassium sulphate", 2*massK + massSO4, Elements{K: 2, S: 1}}
)

// Measure is a salt with how much of it there is in a litre.
type Measure struct {
	Salt
	Millimoles float64 // a litre
}

// Grams is the same in g/L.
func (m Measure) Grams() float64 { return m.Millimoles * m.Mass / 1000 }

// Recipe is the salts of a solution at full strength.
type Recipe []Measure

// Hoagland1 is Hoagland and Arnon's solution No. 1, California Agricultural
// Experiment Station Circular 347, 1950.
var Hoagland1 = Recipe{{PotassiumNitrate, 5}, {CalciumNitrate, 5}, {PotassiumPhosphate, 1}, {MagnesiumSulphate, 2}}

// Steiner is Steiner's universal solution of 30 mmol/L of ions, with 60:5:35 of
// nitrate, phosphate and sulphate and 35:45:20 of potassium, calcium and
// magnesium, made of salts (Steiner, 1984, ratios from memory).
var Steiner = Recipe{{CalciumNitrate, 4.5}, {PotassiumNitrate, 3}, {PotassiumPhosphate, 1}, {PotassiumSulphate, 1.5}, {MagnesiumSulphate, 2}}

func (r Recipe) check() error {
	for _, m := range r {
		if err := between(m.Name, m.Millimoles, 0, 100, "mmol/L"); err != nil {
			return mixed("recipe", err)
		}
	}
	return nil
}

// moles adds up the elements in mmol/L.
func (r Recipe) moles() Elements {
	var e Elements
	for _, m := range r {
		e.Nitrate += m.Millimoles * m.ions.Nitrate
		e.Ammonium += m.Millimoles * m.ions.Ammonium
		e.P += m.Millimoles * m.ions.P
		e.K += m.Millimoles * m.ions.K
		e.Ca += m.Millimoles * m.ions.Ca
		e.Mg += m.Millimoles * m.ions.Mg
		e.S += m.Millimoles * m.ions.S
	}
	return e
}

// Elements is what the recipe comes to in mg/L, the "ppm" of tables.
func (r Recipe) Elements() (Elements, error) {
	if err := r.check(); err != nil {
		return Elements{}, err
	}
	e := r.moles()
	return Elements{
		Nitrate: e.Nitrate * massN, Ammonium: e.Ammonium * massN,
		P: e.P * massP, K: e.K * massK, Ca: e.Ca * massCa, Mg: e.Mg * massMg, S: e.S * massS,
	}, nil
}

// EC is what the recipe will come to in pure water, from its cations in meq/L:
// 0.095·Σ + 0.19. Source: Sonneveld, from memory; good to some 10 %.
func (r Recipe) EC() (EC, error) {
	if err := r.check(); err != nil {
		return 0, err
	}
	e := r.moles()
	return EC(0.095*(e.K+e.Ammonium+2*e.Ca+2*e.Mg) + 0.19), nil
}

// String lists the salts as they are weighed.
func (r Recipe) String() string {
	var salts []string
	for _, m := range r {
		salts = append(salts, fmt.Sprintf("%.3f g/L %s", m.Grams(), m.Name))
	}
	return strings.Join(salts, ", ")
}
