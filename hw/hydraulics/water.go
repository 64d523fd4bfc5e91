package hydraulics

import "math"

// Where Density and Viscosity hold.
const (
	WaterColdest Celsius = 0
	WaterHottest Celsius = 40
)

// Density of air-free water at one atmosphere, 0 to 40 °C, within 0.005 kg/m³
// of IAPWS-IF97 up to 30 °C and 0.009 kg/m³ above, where IAPWS's own two
// formulations differ by as much.
//
// Source: G. S. Kell, J. Chem. Eng. Data 20:97, 1975 (coefficients from memory,
// checked against IAPWS-IF97). Dilute nutrient solution is up to 0.3 % heavier.
func Density(t Celsius) (KilogramsPerCubicMetre, error) {
	if err := between("water temperature", float64(t), float64(WaterColdest), float64(WaterHottest), "°C"); err != nil {
		return 0, err
	}
	x := float64(t)
	top := 999.83952 + x*(16.945176+x*(-7.9870401e-3+x*(-46.170461e-6+x*(105.56302e-9-x*280.54253e-12))))
	return KilogramsPerCubicMetre(top / (1 + 16.879850e-3*x)), nil
}

// Viscosity is the kinematic viscosity of water at one atmosphere, 0 to 40 °C,
// within 0.3 % of IAPWS.
//
// Source: J. Kestin, M. Sokolov, W. A. Wakeham, J. Phys. Chem. Ref. Data
// 7:941, 1978 (coefficients from memory, checked against IAPWS), over Density.
func Viscosity(t Celsius) (SquareMetresPerSecond, error) {
	density, err := Density(t)
	if err != nil {
		return 0, err
	}
	const at20 = 1.002e-3 // Pa·s
	d := 20 - float64(t)
	exponent := d / (float64(t) + 96) * (1.2364 - 1.37e-3*d + 5.7e-6*d*d)
	return SquareMetresPerSecond(at20 * math.Pow(10, exponent) / float64(density)), nil
}

// ViscosityAt20 is the kinematic viscosity of water at 20 °C by IAPWS, for
// places where the temperature of the solution is not known.
const ViscosityAt20 SquareMetresPerSecond = 1.0034e-6
