package grow

import (
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Site is what the advice is made from.
type Site struct {
	Calendar    *schedule.Calendar
	Plans       []schedule.Plan
	Batches     []Batch
	Place       demand.Location
	Line        func(time.Month) demand.Line
	Lamps       []Lamp
	AssumedLine bool            // the file does not say what the climate is
	Units       quantity.Units  // in which people are told of water
	Called      texts.Titles    // what people call benches, reservoirs and batches
	Reservoirs  int             // how many the site has
	Falls       []time.Duration // by bench: from the end of the hold until FULL is clear, in which pots still drink
	Shallow     []time.Duration // by bench: in which a table fills, and empties from there on, with less and less water at its pots; none where it is left out

	recorded map[time.Month]demand.Climate // months of which enough days are on record; see Recall
}

// Batch is one batch as the calendar and as water demand know it.
type Batch struct {
	schedule.Batch
	Demand demand.Batch
	Grows  string        // the crop by the word of the file
	Sown   schedule.Date // 0 where the file does not say
}

// Lamp is a lamp's hours and its photon flux at the leaves in µmol/m²s.
type Lamp struct {
	schedule.Lamps
	Flux float64
}

// Kind is a kind of day.
type Kind int

// The kinds of day, from the one on which plants use least.
const (
	Mild Kind = iota
	Normal
	Hottest
)

// Kinds lists them.
var Kinds = [...]Kind{Mild, Normal, Hottest}

func (k Kind) String() string { return [...]string{"mild", "normal", "hottest"}[k] }

// Weather is a day of this kind on a date.
func (s *Site) Weather(d schedule.Date, k Kind) (demand.Weather, error) {
	w, err := s.weathers(d)
	return w[k], err
}

// weathers is a day of each kind on a date.
func (s *Site) weathers(d schedule.Date) (w [len(Kinds)]demand.Weather, err error) {
	c, err := s.climate(d.Month(), yearDay(d))
	if err != nil {
		return w, err
	}
	w = [...]demand.Weather{c.Mild, c.Normal, c.Hottest}
	for _, l := range s.Lamps {
		evaporates := l.Evaporates(s.Line(d.Month()), s.Place)
		for k := range w {
			w[k].Reference += evaporates
			w[k].Shine = l.over(w[k].Shine)
		}
	}
	return w, nil
}

func yearDay(d schedule.Date) int { return int(d-schedule.DateOf(d.Year(), time.January, 1)) + 1 }

// wholeDay is a day as civil time counts it.
const wholeDay schedule.TimeOfDay = 24 * 3600

// hours is how long the lamp shines in a day.
func (l Lamp) hours() demand.Hours {
	return demand.Hours(float64((l.Off-l.On+wholeDay-1)%wholeDay+1) / 3600)
}

// over is the light hours of a day with a lamp besides.
func (l Lamp) over(s demand.Shine) demand.Shine {
	on, off := time.Duration(l.On)*time.Second, time.Duration(l.Off)*time.Second
	if off <= on {
		return demand.Shine{Rise: 0, Set: 24 * time.Hour}
	}
	if s.Set <= s.Rise {
		return demand.Shine{Rise: on, Set: off}
	}
	return demand.Shine{Rise: min(s.Rise, on), Set: max(s.Set, off)}
}

// perMole is the energy of lamp light in MJ/mol: sodium and similar lamps give
// 5 µmol/J (Thimijan and Heins, HortScience 18:818, 1983, from memory).
const perMole = 0.2

// Evaporates is what the light of a lamp adds to the reference of a day: the energy
// term of FAO-56 eq. 6, in the air that the place has at its middle temperature.
func (l Lamp) Evaporates(line demand.Line, place demand.Location) demand.Millimetres {
	return place.ByEnergy(line.Middle(), demand.Megajoules(perMole*demand.LightIntegral(l.Flux, l.hours())))
}
