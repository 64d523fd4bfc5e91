package demand

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Climate is the weather of three kinds of day.
type Climate struct{ Mild, Normal, Hottest Weather }

// Span runs from a least to a most.
type Span[Q ~float64] struct{ Least, Most Q }

func (s Span[Q]) middle() Q { return (s.Least + s.Most) / 2 }

// Line is a climate in one line, as a grower knows it: how low and how high the
// temperature goes where the plants are, how humid the air is, and how much
// light a dull and a bright day have outdoors.
type Line struct {
	Lows, Highs Span[Celsius]
	Humidity    Span[Percent]
	Light       Span[Megajoules] // a day
}

// Middle is the middle temperature of the line.
func (l Line) Middle() Celsius {
	return (l.Lows.Least + l.Lows.Most + l.Highs.Least + l.Highs.Most) / 4
}

// Climate is the climate of the line at a place on a day of the year: the mild
// day is the coolest, dampest and dullest, the hottest the opposite, the normal
// one halfway. No day is brighter than a clear sky on that day.
func (l Line) Climate(p Location, yearDay int) (Climate, error) {
	if l.Lows.Least > l.Lows.Most || l.Highs.Least > l.Highs.Most || l.Humidity.Least > l.Humidity.Most || l.Light.Least > l.Light.Most {
		return Climate{}, errors.New("climate: each span goes from its least to its most")
	}
	var c Climate
	clear := ClearSky(Extraterrestrial(yearDay, p.Latitude), p.Altitude)
	for _, kind := range []struct {
		weather   *Weather
		low, high Celsius
		humidity  Percent
		light     Megajoules
	}{
		{&c.Mild, l.Lows.Least, l.Highs.Least, l.Humidity.Most, l.Light.Least},
		{&c.Normal, l.Lows.middle(), l.Highs.middle(), l.Humidity.middle(), l.Light.middle()},
		{&c.Hottest, l.Lows.Most, l.Highs.Most, l.Humidity.Least, l.Light.Most},
	} {
		b, err := p.Reference(Day{YearDay: yearDay, Low: kind.low, High: kind.high,
			Humidity: Known(kind.humidity), Light: Known(min(kind.light, clear))})
		if err != nil {
			return Climate{}, fmt.Errorf("climate: %w", err)
		}
		*kind.weather = b.weather()
	}
	return c, nil
}

func (b Balance) weather() Weather { return Weather{b.ET, ShineFor(b.Daylight)} }

// Climate is the climate of the days on record at p: by their reference
// evapotranspiration the mild day is that which one in ten stays below, the
// normal one the middle one, the hottest the highest.
func (r Records) Climate(p Location) (Climate, error) {
	if len(r.Days) == 0 {
		return Climate{}, errors.New("climate: there are no days on record")
	}
	weather := make([]Weather, len(r.Days))
	for i, d := range r.Days {
		b, err := p.Reference(d.Day)
		if err != nil {
			return Climate{}, fmt.Errorf("climate: %s: %w", d.Date.Format(time.DateOnly), err)
		}
		weather[i] = b.weather()
	}
	slices.SortFunc(weather, func(a, b Weather) int { return cmp.Compare(a.Reference, b.Reference) })
	last := len(weather) - 1
	return Climate{weather[last/10], weather[last/2], weather[last]}, nil
}
