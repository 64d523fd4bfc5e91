package solution

import (
	"cmp"
	"fmt"
	"slices"

	"benchtide/controller/quantity"
)

// Coefficient is how much EC rises with each kelvin, as a share of that at
// 25 °C. Meters use 0.019 to 0.020 for salts; 0.0191 fits potassium chloride best
// around 18 °C.
type Coefficient float64

// Compensate is what a reading taken at t comes to at 25 °C, for meters that do
// not do it themselves: reading/(1 + coefficient·(t − 25)).
func Compensate(reading EC, t quantity.Celsius, c Coefficient) (EC, error) {
	if err := cmp.Or(working("reading", reading), warmth(t), slope(c)); err != nil {
		return 0, mixed("compensate", err)
	}
	return reading / EC(c.rise(t)), nil
}

func (c Coefficient) rise(t quantity.Celsius) float64 { return 1 + float64(c)*float64(t-25) }

func slope(c Coefficient) error { return between("coefficient", 100*c, 0, 3, "% for each °C") }

// point is a row of kcl.
type point struct{ celsius, conductivity float64 }

// kcl is the conductivity of potassium chloride, 0.01 mol/kg, in µS/cm. Source:
// NIST, Wu, Koch and Pratt, J. Res. NIST 96:191, 1991, and CRC Handbook p. 5-73.
var kcl = []point{
	{0, 772.92}, {5, 890.96}, {10, 1013.95}, {15, 1141.45}, {18, 1219.93}, {20, 1273.03},
	{25, 1408.23}, {30, 1546.63}, {35, 1687.79}, {40, 1831.27}, {50, 2123.43},
}

// chloride is the conductivity of potassium chloride at t over that at 25 °C,
// read from the table in a straight line, 0.1 % off at the most.
func chloride(t quantity.Celsius) float64 {
	i, _ := slices.BinarySearchFunc(kcl[:len(kcl)-1], float64(t), func(row point, t float64) int { return cmp.Compare(row.celsius, t) })
	b := kcl[i]
	a := kcl[max(0, i-1)]
	at := b.conductivity
	if b.celsius > a.celsius {
		at = a.conductivity + (b.conductivity-a.conductivity)*(float64(t)-a.celsius)/(b.celsius-a.celsius)
	}
	return at / 1408.23
}

// CompensationError is the share by which a coefficient misreads potassium
// chloride at t, above 0 where it reads too high.
func CompensationError(t quantity.Celsius, c Coefficient) (quantity.Fraction, error) {
	if err := cmp.Or(warmth(t), slope(c)); err != nil {
		return 0, mixed("compensate", err)
	}
	return quantity.Fraction(chloride(t)/c.rise(t) - 1), nil
}

// misreads puts CompensationError in words.
func misreads(t quantity.Celsius, f quantity.Fraction, u quantity.Units) string {
	side := "high"
	if f < 0 {
		f, side = -f, "low"
	}
	if f < 0.0005 {
		return fmt.Sprintf("At %s this coefficient reads potassium chloride right.", u.Temperature(t))
	}
	return fmt.Sprintf("At %s this coefficient reads potassium chloride %.1f %% too %s.", u.Temperature(t), 100*f, side)
}
