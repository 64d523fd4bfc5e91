package grow

import (
	"fmt"
	"math"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// EnoughLight is the daily light integral in mol/m² that young plants want at
// least (Michigan State University Extension, on low light and young plants).
const EnoughLight = 10

// wantsLight are the crops of which a source says that young plants gain by more, up
// to so much in mol/m²; testdata/published/plants-light.csv names it.
var wantsLight = map[string]float64{"basil": 12, "cucumber": 11, "lettuce": 12, "tomato": 13}

// Light is the daily light integral at the leaves, mol/m².
type Light struct {
	Dull, Bright float64      // from the sun, on a dull and on a bright day
	Lamps        float64      // from lamps
	Hours        demand.Hours // that the lamps with a known flux shine, the longest of them

	Least float64 // that the most demanding batch on the benches wants
	For   string  // whose that is: its crop, or young plants

	// Wanted is how long those lamps would have to shine for Least on a dull
	// day: 0 where the sun does, infinite where none has a flux.
	Wanted demand.Hours
}

// Light is the light of a date.
func (s *Site) Light(d schedule.Date) Light {
	span := s.Line(d.Month()).Light
	clear := demand.ClearSky(demand.Extraterrestrial(yearDay(d), s.Place.Latitude), s.Place.Altitude)
	passes := 1.0
	if s.Place.Cover > 0 {
		passes = float64(s.Place.Cover)
	}
	l := Light{
		Dull:   passes * demand.MolesFromLight(min(span.Least, clear)),
		Bright: passes * demand.MolesFromLight(min(span.Most, clear)),
	}
	var flux float64
	for _, lamp := range s.Lamps {
		if lamp.Flux > 0 {
			flux += lamp.Flux
			l.Lamps += demand.LightIntegral(lamp.Flux, lamp.hours())
			l.Hours = max(l.Hours, lamp.hours())
		}
	}
	l.Least, l.For = s.leastLight(d)
	l.Wanted = demand.LightHours(max(0, l.Least-l.Dull), flux)
	if l.Dull >= l.Least {
		l.Wanted = 0
	}
	return l
}

// leastLight is what the most demanding of the batches wants that stand on a date.
func (s *Site) leastLight(d schedule.Date) (least float64, crop string) {
	least, crop = EnoughLight, "young plants"
	for _, b := range s.Batches {
		if b.stands(d) && wantsLight[b.Grows] > least {
			least, crop = wantsLight[b.Grows], "young "+b.Grows
		}
	}
	return least, crop
}

// bears is how much light in mol/m² a day plants of an age in days from seed bear
// without shade, the youngest first; judgement, no source.
var bears = []struct {
	until int
	most  float64
}{{7, 10}, {21, 15}, {35, 20}}

// Shade says of a batch whose day of sowing is known that a bright day is more than it
// bears; nothing where it bears that.
func (s *Site) Shade(batch int, d schedule.Date) string {
	b := &s.Batches[batch]
	if b.Sown == 0 || !b.stands(d) {
		return ""
	}
	age, l := int(d-b.Sown), s.Light(d)
	for _, young := range bears {
		if age < young.until {
			if l.Bright+l.Lamps <= young.most {
				return ""
			}
			return fmt.Sprintf("bright days bring %.0f mol/m² on %s, and plants %d days from seed bear about %.0f: shade them at noon", l.Bright+l.Lamps, d, age, young.most)
		}
	}
	return ""
}

// Enough says whether a dull day with the lamps as they are gives Least.
func (l Light) Enough() bool { return l.Dull+l.Lamps >= l.Least }

// OutOfReach says that no hours of the lamps do.
func (l Light) OutOfReach() bool { return float64(l.Wanted) > 24 || math.IsInf(float64(l.Wanted), 1) }
