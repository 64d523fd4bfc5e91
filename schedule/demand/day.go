package demand

import (
	"cmp"
	"fmt"
)

// Location is where weather was read.
type Location struct {
	Latitude float64 // degrees, north positive
	Altitude Metres
	Coastal  bool  // on or near a coast, where nights stay milder
	Cover    Cover // over the plants; 0 in the open air
}

func (p Location) check() error {
	return cmp.Or(between("latitude", p.Latitude, -90, 90, "°"), between("altitude", p.Altitude, -500, 6000, "m"), p.Cover.check())
}

// Day is the weather of one day. Low and High have to be known; for the rest
// Reference takes the best of what is there.
type Day struct {
	YearDay   int // 1 to 366
	Low, High Celsius

	Driest, Dampest Optional[Percent] // humidity at its lowest and highest
	Humidity        Optional[Percent] // its mean
	Dew             Optional[Celsius] // mean dew point
	Vapour          Optional[Kilopascals]

	Wind     Optional[MetresPerSecond] // mean, at 2 m
	Sunshine Optional[Hours]
	Light    Optional[Megajoules] // sun and sky on level ground, outdoors, over the day

	Soil Megajoules // heat that the ground takes up; 0 for a single day (FAO-56 eq. 42)
}

func (d Day) mean() Celsius { return (d.Low + d.High) / 2 }

// check refuses what no weather can be: temperatures outside the records of
// the earth, and more light than there is above the atmosphere.
func (d Day) check(p Location) error {
	if d.YearDay < 1 || d.YearDay > 366 {
		return fmt.Errorf("day %d of the year: write 1 to 366", d.YearDay)
	}
	if err := cmp.Or(p.check(), Believe(d.Low), Believe(d.High)); err != nil {
		return err
	}
	if d.Low > d.High {
		return unlikely{"low of %s above the high of %s: exchange them", []Celsius{d.Low, d.High}}
	}
	return cmp.Or(d.sift(p)...)
}

// sift takes out the readings that cannot be, so that they count as missing,
// and says which those were. The temperatures have to be right.
func (d *Day) sift(p Location) []error {
	daylight := float64(Daylight(d.YearDay, p.Latitude)) + twilight
	return []error{
		keep("lowest humidity", &d.Driest, 0, 100, "%"),
		keep("highest humidity", &d.Dampest, 0, 100, "%"),
		keep("humidity", &d.Humidity, 0, 100, "%"),
		keep("dew point", &d.Dew, coldest, float64(d.High), "°C"),
		keep("vapour pressure", &d.Vapour, 0, float64(Saturation(d.High)), "kPa"),
		keep("wind", &d.Wind, 0, strongest, windUnit),
		keep("sunshine", &d.Sunshine, 0, daylight, "h"),
		keep("light", &d.Light, 0, float64(Extraterrestrial(d.YearDay, p.Latitude)), "MJ/m² a day"),
	}
}

const (
	strongest = 75 // m/s of a mean wind
	windUnit  = "m/s"
	twilight  = 0.5 // h that refraction and the sun's radius add to Daylight up to 60° of latitude
)
