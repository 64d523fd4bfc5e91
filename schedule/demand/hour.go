package demand

import (
	"cmp"
	"fmt"
	"math"
)

// Hour is the weather of one hour.
type Hour struct {
	YearDay     int     // 1 to 366
	Middle      float64 // standard time of the hour's middle, 0 to 24 h
	Zone        float64 // degrees east of the meridian of standard time
	Longitude   float64 // degrees, east positive
	Temperature Celsius
	Humidity    Percent
	Wind        MetresPerSecond // at 2 m
	Light       Megajoules      // sun and sky on level ground, in the hour

	// Clear is the share of a clear sky's light some two hours before sunset,
	// for hours without light of their own.
	Clear Optional[float64]
}

func (h Hour) check(p Location) error {
	if h.YearDay < 1 || h.YearDay > 366 {
		return fmt.Errorf("day %d of the year: write 1 to 366", h.YearDay)
	}
	above, _ := h.above(p.Latitude)
	return cmp.Or(p.check(), Believe(h.Temperature),
		between("middle of the hour", h.Middle, 0, 24, "h"),
		between("longitude", h.Longitude, -180, 180, "°"),
		between("meridian of the zone", h.Zone, -180, 210, "°"),
		between("humidity", h.Humidity, 0, 100, "%"),
		between("wind", h.Wind, 0, strongest, "m/s"),
		between("light", h.Light, 0, float64(above)+lowSun, "MJ/m² an hour"),
		keep("share of a clear sky", &h.Clear, 0, 1.1, ""))
}

// lowSun is light in an hour around sunrise and sunset, when refraction and a
// sky still lit count for more than geometry.
const lowSun = 0.1

// above is the light above the atmosphere in the hour, and its middle's hour
// angle. Source: FAO-56 eq. 28 to 33, with longitudes counted east.
func (h Hour) above(latitude float64) (Megajoules, float64) {
	s := sunOn(h.YearDay, latitude)
	b := 2 * math.Pi * float64(h.YearDay-81) / 364
	season := 0.1645*math.Sin(2*b) - 0.1255*math.Cos(b) - 0.025*math.Sin(b)
	angle := math.Pi / 12 * (h.Middle + (h.Longitude-h.Zone)/15 + season - 12)
	angle = math.Remainder(angle, 2*math.Pi)
	set, half := s.sunset(), math.Pi/24
	from, to := max(-set, angle-half), min(set, angle+half)
	if from >= to {
		return 0, angle
	}
	return s.between(from, to), angle
}

// Hourly is the water that short grass uses in an hour, by the FAO-56
// Penman–Monteith equation for hours (eq. 53).
func (p Location) Hourly(h Hour) (Balance, error) {
	if err := h.check(p); err != nil {
		return Balance{}, err
	}
	above, angle := h.above(p.Latitude)
	b := Balance{
		Above: above, Light: h.Light, ClearSky: ClearSky(above, p.Altitude),
		Daylight:   Daylight(h.YearDay, p.Latitude),
		Saturation: Saturation(h.Temperature), Wind: h.Wind,
	}
	b.Vapour = b.Saturation * Kilopascals(h.Humidity/100)
	b.LongWave = NetLongWave(h.Temperature, h.Temperature, b.Vapour, b.hourClearness(h, p, angle)) / 24
	b.close(Day{Low: h.Temperature, High: h.Temperature}, p.Altitude)
	b.Soil = hourSoil(b.Net)
	b.ET = b.penmanMonteith(37)
	return b, nil
}

// hourClearness is taken from the hour's light while the sun stands well above
// the horizon, a good hour before sunset, else from the evening before.
func (b *Balance) hourClearness(h Hour, p Location, angle float64) float64 {
	if set := sunOn(h.YearDay, p.Latitude).sunset(); math.Abs(angle) < set-0.3 {
		return clearness(b.Light, b.ClearSky)
	}
	if clear, ok := h.Clear.Get(); ok {
		return clear
	}
	b.Assumed = append(b.Assumed, AssumedClouds)
	return halfClear
}

// hourSoil is the heat that passes into the ground by day and out by night.
// Source: FAO-56 eq. 45 and 46.
func hourSoil(net Megajoules) Megajoules {
	if net > 0 {
		return 0.1 * net
	}
	return 0.5 * net
}
