package demand

import "math"

const (
	solarConstant = 0.0820 // MJ/m² a minute
	clearShare    = 0.75   // of the light above the atmosphere, at sea level under a clear sky
)

// sun is the sun's geometry on a day of the year. Angles are in radians.
type sun struct {
	distance    float64 // inverse relative distance dr
	declination float64
	latitude    float64
}

// sunOn follows FAO-56 eq. 23 and 24.
func sunOn(yearDay int, latitude float64) sun {
	year := 2 * math.Pi * float64(yearDay) / 365
	return sun{1 + 0.033*math.Cos(year), 0.409 * math.Sin(year-1.39), latitude * math.Pi / 180}
}

// sunset is the hour angle at sunset: 0 in the polar night and π in the polar
// day. Source: FAO-56 eq. 25.
func (s sun) sunset() float64 {
	return math.Acos(max(-1, min(1, -math.Tan(s.latitude)*math.Tan(s.declination))))
}

// between is the light above the atmosphere between two hour angles. Source:
// FAO-56 eq. 28; with both sunsets it is eq. 21.
func (s sun) between(from, to float64) Megajoules {
	return Megajoules(12 * 60 / math.Pi * solarConstant * s.distance *
		((to-from)*math.Sin(s.latitude)*math.Sin(s.declination) +
			math.Cos(s.latitude)*math.Cos(s.declination)*(math.Sin(to)-math.Sin(from))))
}

// Extraterrestrial is the light Ra above the atmosphere in a day, by day of the
// year (1 to 366) and latitude in degrees, north positive. Source: FAO-56 eq. 21.
func Extraterrestrial(yearDay int, latitude float64) Megajoules {
	s := sunOn(yearDay, latitude)
	return s.between(-s.sunset(), s.sunset())
}

// Daylight is the length N of a day without refraction. Source: FAO-56 eq. 34.
func Daylight(yearDay int, latitude float64) Hours {
	return Hours(24 / math.Pi * sunOn(yearDay, latitude).sunset())
}

// LightFromSunshine is the light Rs that reaches the ground, from hours of
// bright sunshine. Source: FAO-56 eq. 35 with its usual coefficients.
func LightFromSunshine(above Megajoules, sunshine, daylight Hours) Megajoules {
	if daylight == 0 {
		return 0
	}
	return Megajoules(0.25+0.50*float64(sunshine/daylight)) * above
}

// LightFromRange guesses the light from the day's range of temperature: clear
// days have cold nights. Source: FAO-56 eq. 50, coefficients 0.16 inland and
// 0.19 on a coast.
func LightFromRange(above Megajoules, low, high Celsius, coastal bool) Megajoules {
	k := 0.16
	if coastal {
		k = 0.19
	}
	return Megajoules(min(clearShare, k*math.Sqrt(float64(high-low)))) * above
}

// ClearSky is the light Rso under a clear sky. Source: FAO-56 eq. 37.
func ClearSky(above Megajoules, altitude Metres) Megajoules {
	return Megajoules(clearShare+2e-5*float64(altitude)) * above
}

// NetShortWave is what grass keeps of the light. Source: FAO-56 eq. 38, albedo 0.23.
func NetShortWave(light Megajoules) Megajoules { return 0.77 * light }

// The share of a clear sky's light that eq. 39 is made for: 0.3 at the least
// (ASCE Standardized Reference Evapotranspiration Equation, 2005, from memory).
const darkest, brightest = 0.3, 1

const (
	kelvin          = 273.16   // FAO-56's own offset
	stefanBoltzmann = 4.903e-9 // MJ/m² K⁻⁴ a day
)

// NetLongWave is the heat that grass loses in a day to a sky which lets through
// clear of a clear sky's light, 0.3 to 1. Source: FAO-56 eq. 39.
func NetLongWave(low, high Celsius, vapour Kilopascals, clear float64) Megajoules {
	black := stefanBoltzmann * (pow4(low) + pow4(high)) / 2
	clear = max(darkest, min(brightest, clear))
	return Megajoules(black * (0.34 - 0.14*math.Sqrt(float64(vapour))) * (1.35*clear - 0.35))
}

func pow4(t Celsius) float64 {
	k := float64(t) + kelvin
	return k * k * k * k
}
