package config

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Climate is what days are like where the plants are.
type Climate struct {
	Cover demand.Cover // the share of the light outside that reaches the plants
	Lines [12]demand.Line
}

// Line is the climate line of a month.
func (c *Climate) Line(m time.Month) demand.Line { return c.Lines[m-1] }

// assumedLine and the two after it stand in for what a file does not say: a
// greenhouse in a temperate summer. Common practice, no source; UMass Extension
// has glazing and structure take 10 to 40 % of the light.
var assumedLine = demand.Line{
	Lows: demand.Span[demand.Celsius]{Least: 10, Most: 18}, Highs: demand.Span[demand.Celsius]{Least: 18, Most: 34},
	Humidity: demand.Span[demand.Percent]{Least: 40, Most: 85}, Light: demand.Span[demand.Megajoules]{Least: 4, Most: 27},
}

const (
	assumedCover    demand.Cover = 0.7
	assumedLatitude float64      = 50
)

func assumedClimate() Climate {
	c := Climate{Cover: assumedCover}
	for i := range c.Lines {
		c.Lines[i] = assumedLine
	}
	return c
}

// Weather returns what the file says of the climate, else what is assumed, the
// place it belongs to, and what had to be assumed, in words.
func (s *Site) Weather() (Climate, demand.Location, []string) {
	var assumed []string
	c := assumedClimate()
	if s.Climate != nil {
		c = *s.Climate
	} else {
		assumed = append(assumed, fmt.Sprintf("no site.climate in the file: nights of %s, days of %s, under glass, taken for all months",
			s.Units.Temperatures(10, 18), s.Units.Temperatures(18, 34)))
	}
	p := demand.Location{Latitude: assumedLatitude, Cover: c.Cover}
	if s.Location != nil {
		p.Latitude = s.Location.Latitude
	} else {
		assumed = append(assumed, "no site.latitude in the file: 50° north taken")
	}
	return c, p, assumed
}

// crops are the crops that a batch may name: young plants in pots, each with
// the factor that it has when its leaves cover the bench.
var crops = func() map[string]demand.Canopy {
	all := map[string]demand.Canopy{unnamed: demand.LeafyYoung, "basil": demand.LeafyYoung}
	for name, full := range demand.FullGrown {
		c := demand.LeafyYoung
		c.Full = full
		all[strings.ReplaceAll(name, " ", "_")] = c
	}
	return all
}()

// unnamed is the crop of a batch whose file names none.
const unnamed = "leafy"

// Grows is the crop of batch i: the one that the file names, or, where it names none,
// one that stands in the names of the batch or of its plan.
func (s *Site) Grows(i int) string {
	b := &s.Batches[i]
	if b.CropName != unnamed {
		return b.CropName
	}
	plan := s.Plans[b.Plan].Name
	for _, called := range []string{b.Name, s.Titles.Batches[b.Name], plan, s.Titles.Plans[plan]} {
		for _, word := range strings.FieldsFunc(strings.ToLower(called), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if meant, other := otherCrops[word]; other {
				word = meant
			}
			if _, crop := crops[word]; crop && word != unnamed {
				return word
			}
		}
	}
	return unnamed
}

func cropNames() []string { return slices.Sorted(maps.Keys(crops)) }

// widest is how many times as wide as its pot a plant is taken to grow at most
// (common practice, no source), however far apart the pots stand.
const widest = 2.5

// Demand is batch i as water demand knows it.
func (s *Site) Demand(i int) (demand.Batch, error) {
	b := &s.Batches[i]
	pot, err := demand.NewPot(demand.Litres(b.Pots.Volume), b.Substrate.holds(b.Pots))
	pot.Drinks = b.Substrate.Drinks
	return demand.Batch{Pots: b.Pots.Count, Pot: pot, Space: s.Space(i), Crop: s.Crop(i)}, err
}

// Crop is that of batch i among its pots.
func (s *Site) Crop(i int) demand.Canopy {
	c, mouth := s.Batches[i].Crop, math.Pi/4*math.Pow(float64(s.Batches[i].Pots.Top), 2)
	c.Mouths = min(1, mouth/float64(s.Space(i)))
	return c
}

// Space is the part of its bench that one grown plant of batch i shades: its
// share of it, unless the file says how far it spreads.
func (s *Site) Space(i int) demand.SquareMetres {
	b := &s.Batches[i]
	if b.Spread > 0 {
		return demand.SquareMetres(b.Spread * b.Spread)
	}
	t := s.Benches[b.Bench].Table
	share := float64(t.Length*t.Width) / float64(s.crowd(i))
	return demand.SquareMetres(min(share, math.Pow(widest*float64(b.Pots.Top), 2)))
}

// crowd is the most pots that stand on the bench of batch i together with it.
func (s *Site) crowd(i int) int {
	most := s.Batches[i].Pots.Count
	for _, newest := range s.Batches {
		if at := max(newest.Transplanted, s.Batches[i].Transplanted); s.Batches[i].stands(at) {
			most = max(most, s.countOn(s.Batches[i].Bench, at))
		}
	}
	return most
}

func (s *Site) countOn(bench int, d schedule.Date) (pots int) {
	for _, b := range s.Batches {
		if b.Bench == bench && b.stands(d) {
			pots += b.Pots.Count
		}
	}
	return pots
}

func (b *Batch) stands(d schedule.Date) bool {
	return b.Transplanted <= d && (b.Closed == 0 || d <= b.Closed)
}

// Crop is what a batch may name as its crop: the factor of a full cover and the
// days until there is one.
type Crop struct {
	Name string
	Full float64
	Days int
}

// Crops lists what a batch may name as its crop.
func Crops() (all []Crop) {
	for _, name := range cropNames() {
		all = append(all, Crop{name, float64(crops[name].Full), crops[name].Days})
	}
	return all
}
