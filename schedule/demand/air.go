package demand

import "math"

// Pressure is the mean pressure of air at an altitude. Source: FAO-56 eq. 7.
func Pressure(altitude Metres) Kilopascals {
	return Kilopascals(101.3 * math.Pow((293-0.0065*float64(altitude))/293, 5.26))
}

// Psychrometric is the psychrometric constant γ in kPa/K at a pressure.
// Source: FAO-56 eq. 8.
func Psychrometric(p Kilopascals) Kilopascals { return 0.665e-3 * p }

// Saturation is the pressure of saturated vapour over water, within 0.11 % of
// IAPWS-IF97 from 5 to 40 °C. Source: FAO-56 eq. 11.
func Saturation(t Celsius) Kilopascals {
	return Kilopascals(0.6108 * math.Exp(17.27*float64(t)/(float64(t)+237.3)))
}

// MeanSaturation is that of a day: the mean of the values at its extremes, as
// that at the mean temperature is some percent too low. Source: FAO-56 eq. 12.
func MeanSaturation(low, high Celsius) Kilopascals {
	return (Saturation(low) + Saturation(high)) / 2
}

// Slope is Δ in kPa/K, how fast Saturation rises at t. Source: FAO-56 eq. 13.
func Slope(t Celsius) Kilopascals {
	d := float64(t) + 237.3
	return Kilopascals(4098 * float64(Saturation(t)) / (d * d))
}

// VapourFromExtremes is a day's vapour pressure from the humidity of its
// driest and dampest hour. Source: FAO-56 eq. 17.
func VapourFromExtremes(low, high Celsius, driest, dampest Percent) Kilopascals {
	return (Saturation(low)*Kilopascals(dampest) + Saturation(high)*Kilopascals(driest)) / 200
}

// VapourFromDampest needs the highest humidity alone. Source: FAO-56 eq. 18.
func VapourFromDampest(low Celsius, dampest Percent) Kilopascals {
	return Saturation(low) * Kilopascals(dampest) / 100
}

// VapourFromMean needs the mean humidity alone. Source: FAO-56 eq. 19.
func VapourFromMean(low, high Celsius, humidity Percent) Kilopascals {
	return MeanSaturation(low, high) * Kilopascals(humidity) / 100
}
