package demand

import "math"

// LightIntegral is the daily light integral in mol/m² of a steady photon flux
// in µmol/m²s over hours: flux·hours·0.0036, exact.
func LightIntegral(flux float64, hours Hours) float64 { return flux * float64(hours) * 0.0036 }

// LightHours is how long a steady photon flux needs for a daily light integral,
// or infinitely long without any flux.
func LightHours(target, flux float64) Hours {
	if flux <= 0 {
		return Hours(math.Inf(1))
	}
	return Hours(target / flux / 0.0036)
}

// MolesFromLight is the photosynthetic light in mol/m² within sun and sky:
// 2.05 mol/MJ, the middle of 2.0 to 2.1 (Thimijan and Heins, HortScience
// 18:818, 1983, from memory).
func MolesFromLight(light Megajoules) float64 { return 2.05 * float64(light) }
