package schedule

import (
	"math"
	"time"
)

// Sun is daylight from sunrise to sunset at a place.
type Sun struct {
	Latitude  float64 // degrees, north positive
	Longitude float64 // degrees, east positive
	Zone      *time.Location
}

const (
	// riseAltitude is the altitude in degrees of the sun's centre at sunrise
	// and sunset: 34' of refraction and 16' of radius (Meeus, Astronomical
	// Algorithms, ch. 15).
	riseAltitude = -0.833

	// j2000 is the epoch J2000.0, 2000-01-01T12:00, as Unix time.
	j2000 = 946728000

	secondsPerDegree = 240 // the earth turns one degree in 4 min
)

// Hours returns sunrise and sunset of d, to the second, for a level horizon at
// the standard refraction; good to half a minute up to 60° of latitude. It
// keeps from on d, also where the zone is far from the sun. A date that the
// zone skips altogether has no light.
func (s Sun) Hours(d Date) (from, to Civil, ok bool) {
	clockNoon := d.At(12 * 3600).In(s.Zone)
	if CivilIn(clockNoon, s.Zone).Date() != d {
		return 0, 0, false
	}
	noon := s.meanNoon(clockNoon)
	rise, up := s.event(noon, -1)
	set, upAtSet := s.event(noon, +1)
	if up == polarNight || upAtSet == polarNight {
		return 0, 0, false
	}
	from, to = d.At(0), d.AddDays(1).At(0)
	if up == risesAndSets {
		from = max(from, CivilIn(rise, s.Zone))
	}
	if upAtSet == risesAndSets {
		to = CivilIn(set, s.Zone)
	}
	return from, to, true
}

// meanNoon returns the mean solar noon nearest to t, in Unix seconds.
func (s Sun) meanNoon(t time.Time) float64 {
	ahead := s.Longitude*secondsPerDegree - secondsPerDay/2
	return math.Round((float64(t.Unix())+ahead)/secondsPerDay)*secondsPerDay - ahead
}

type daylight uint8

const (
	risesAndSets daylight = iota
	polarDay
	polarNight
)

// event returns sunrise (side -1) or sunset (side +1) of the day around
// meanNoon. The sun moves on while the day runs, so its place is taken at the
// event itself, by iteration; each pass narrows the error about a
// hundredfold.
func (s Sun) event(meanNoon, side float64) (time.Time, daylight) {
	t := meanNoon
	for range 4 {
		declination, equation := solarPosition(t)
		cosHour := (sin(riseAltitude) - sin(s.Latitude)*sin(declination)) / (cos(s.Latitude) * cos(declination))
		switch {
		case cosHour > 1:
			return time.Time{}, polarNight
		case cosHour < -1:
			return time.Time{}, polarDay
		}
		t = meanNoon - equation*60 + side*degrees(math.Acos(cosHour))*secondsPerDegree
	}
	return time.Unix(int64(math.Round(t)), 0), risesAndSets
}

// solarPosition returns the sun's declination in degrees and the equation of time
// in minutes at t, in Unix seconds. Source: Meeus, Astronomical Algorithms,
// ch. 25 (low accuracy) and 28, with the coefficients of the NOAA solar
// calculator.
func solarPosition(t float64) (declination, equation float64) {
	c := (t - j2000) / (36525 * secondsPerDay) // Julian centuries
	meanLongitude := 280.46646 + c*(36000.76983+c*0.0003032)
	anomaly := 357.52911 + c*(35999.05029-c*0.0001537)
	eccentricity := 0.016708634 - c*0.000042037
	centre := (1.914602-0.004817*c)*sin(anomaly) + (0.019993-0.000101*c)*sin(2*anomaly) + 0.000289*sin(3*anomaly)
	node := 125.04 - 1934.136*c
	longitude := meanLongitude + centre - 0.00569 - 0.00478*sin(node)
	obliquity := 23 + (26+(21.448-46.815*c)/60)/60 + 0.00256*cos(node)

	declination = degrees(math.Asin(sin(obliquity) * sin(longitude)))
	y := math.Pow(math.Tan(radians(obliquity/2)), 2)
	equation = 4 * degrees(y*sin(2*meanLongitude)-
		2*eccentricity*sin(anomaly)+
		4*eccentricity*y*sin(anomaly)*cos(2*meanLongitude)-
		0.5*y*y*sin(4*meanLongitude)-
		1.25*eccentricity*eccentricity*sin(2*anomaly))
	return declination, equation
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }
func degrees(rad float64) float64 { return rad * 180 / math.Pi }
func sin(deg float64) float64     { return math.Sin(radians(deg)) }
func cos(deg float64) float64     { return math.Cos(radians(deg)) }
