package solution

import (
	"cmp"
	"fmt"
	"math"

	"benchtide/controller/quantity"
)

// Oxygen is the dissolved oxygen in mg/L of water in balance with moist air, at
// 0 to 40 °C, an altitude in m of −500 to 5000 and a salinity in g/kg of 0 to
// 40. Source: Benson and Krause, Limnology and Oceanography 29:620, 1984, as in
// APHA Standard Methods 4500-O.
func Oxygen(t quantity.Celsius, altitude quantity.Metres, salinity float64) (float64, error) {
	if !(altitude >= lowest && altitude <= highest) {
		return 0, mixed("oxygen", quantity.Mistaken(func(u quantity.Units) string {
			return fmt.Sprintf("altitude of %s cannot be right: it lies between %s and %s", u.Head(altitude), u.Head(lowest), u.Head(highest))
		}))
	}
	return oxygenAt(t, atmospheres(altitude), salinity)
}

// Between these heights people live.
const lowest, highest quantity.Metres = -500, 5000

// oxygenAt is Oxygen at a pressure of air in atmospheres of 101.325 kPa. The
// factor for pressure is from memory.
func oxygenAt(t quantity.Celsius, pressure, salinity float64) (float64, error) {
	if err := cmp.Or(warmthUpTo(t, 40), between("salinity", salinity, 0, 40, "g/kg")); err != nil {
		return 0, mixed("oxygen", err)
	}
	c := float64(t)
	k := c + 273.15
	full := math.Exp(-139.34411 + (1.575701e5+(-6.642308e7+(1.243800e10-8.621949e11/k)/k)/k)/k)
	salt := math.Exp(-salinity * (1.7674e-2 + (-10.754+2140.7/k)/k))
	vapour := math.Exp(11.8571 + (-3840.70-216961/k)/k)
	theta := 0.000975 - 1.426e-5*c + 6.436e-8*c*c
	air := pressure * (1 - vapour/pressure) * (1 - theta*pressure) / ((1 - vapour) * (1 - theta))
	return full * salt * air, nil
}

// atmospheres is the mean pressure of air at an altitude. Source: ISO 2533
// standard atmosphere, from memory.
func atmospheres(altitude quantity.Metres) float64 {
	return math.Pow(1-2.25577e-5*float64(altitude), 5.25588)
}
