package grow

import (
	"fmt"
	"strings"

	"benchtide/controller/quantity"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Warmth is the air that young plants of a crop bear, in °C.
type Warmth struct {
	Night demand.Celsius // from which they grow on at night; 0 where no source says
	Cold  demand.Celsius // below which cold hurts them
	Hot   demand.Celsius // above which heat does
}

// warmths are those of the crops that are known; their sources are in
// testdata/published/plants-warmth.csv. Hot is common practice, no source.
var warmths = map[string]Warmth{
	"basil":        {Cold: 12, Hot: 35},
	"broccoli":     {Night: 16, Cold: 0, Hot: 30},
	"cucumber":     {Night: 18, Cold: 12, Hot: 35},
	"lettuce":      {Night: 4, Cold: 0, Hot: 30},
	"sweet_pepper": {Night: 16, Cold: 10, Hot: 35},
	"tomato":       {Night: 16, Cold: 5, Hot: 35},
}

// anyWarmth is that of plants of which no more is known: frost hurts, and so does
// what most of them call hot (common practice, no source).
var anyWarmth = Warmth{Cold: 0, Hot: 35}

// WarmthOf is the warmth of a crop by the word of the file.
func WarmthOf(crop string) Warmth {
	if w, known := warmths[crop]; known {
		return w
	}
	return anyWarmth
}

// Weathered is a time in which the air where a batch stands hurts it.
type Weathered struct {
	From, To schedule.Date // its first and its last day
	Reaches  demand.Celsius
}

// Chill is the time between two dates in which nights hurt a batch, with the coldest
// night of it; false where there is none.
func (s *Site) Chill(batch int, from, to schedule.Date) (Weathered, bool) {
	cold := WarmthOf(s.Batches[batch].Grows).Cold
	return s.weathered(batch, from, to, func(l demand.Line) (demand.Celsius, bool) {
		return l.Lows.Least, l.Lows.Least < cold
	}, func(a, b demand.Celsius) demand.Celsius { return min(a, b) })
}

// Heat is the time between two dates in which days do, with the hottest day of it.
func (s *Site) Heat(batch int, from, to schedule.Date) (Weathered, bool) {
	hot := WarmthOf(s.Batches[batch].Grows).Hot
	return s.weathered(batch, from, to, func(l demand.Line) (demand.Celsius, bool) {
		return l.Highs.Most, l.Highs.Most > hot
	}, func(a, b demand.Celsius) demand.Celsius { return max(a, b) })
}

// weathered is the first time without a break in which a climate line hurts.
func (s *Site) weathered(batch int, from, to schedule.Date, hurts func(demand.Line) (demand.Celsius, bool), worse func(a, b demand.Celsius) demand.Celsius) (w Weathered, found bool) {
	b := &s.Batches[batch]
	from = max(from, b.Transplanted)
	if b.Closed != 0 {
		to = min(to, b.Closed)
	}
	for d := from; d <= to; d++ {
		t, hurt := hurts(s.Line(d.Month()))
		switch {
		case !hurt && found:
			return w, true
		case hurt && !found:
			w, found = Weathered{d, d, t}, true
		case hurt:
			w.To, w.Reaches = d, worse(w.Reaches, t)
		}
	}
	return w, found
}

// Comfort are the sentences on the air that a batch stands in between two dates; none
// where it suits it. What has to be assumed of the climate is said to be, and of
// assumed days nobody is told that they are too hot.
func (s *Site) Comfort(batch int, from, to schedule.Date) (all []string) {
	crop := s.Batches[batch].Grows
	needs, called := WarmthOf(crop), "these plants"
	if _, known := warmths[crop]; known {
		called = strings.ReplaceAll(crop, "_", " ")
	}
	if w, cold := s.Chill(batch, from, to); cold {
		text := fmt.Sprintf("from %s to %s nights go down to %s", w.From, w.To, s.celsius(w.Reaches))
		if s.AssumedLine {
			text += ", as taken without site.climate"
		}
		do := "heat, or bring it in later"
		if needs.Night > 0 {
			do = fmt.Sprintf("heat (it grows on from about %s at night), or bring it in later", s.celsius(needs.Night))
		}
		if s.AssumedLine {
			do += "; if a thermometer among the plants shows warmer nights, write them as site.climate"
		}
		all = append(all, fmt.Sprintf("%s, and cold below about %s hurts %s: %s", text, s.celsius(needs.Cold), called, do))
	}
	if w, hot := s.Heat(batch, from, to); hot && !s.AssumedLine {
		all = append(all, fmt.Sprintf("from %s to %s days go up to %s, and heat above about %s hurts %s: open vents before noon, shade, and keep air moving",
			w.From, w.To, s.celsius(w.Reaches), s.celsius(needs.Hot), called))
	}
	return all
}

// celsius is a temperature as people of the site read it.
func (s *Site) celsius(t demand.Celsius) string { return s.Units.Temperature(quantity.Celsius(t)) }

// extremes are the coldest night and the hottest day that a climate line has between two
// dates.
func (s *Site) extremes(from, to schedule.Date) (coldest, hottest demand.Celsius) {
	for d := from; d <= to; d++ {
		l := s.Line(d.Month())
		if d == from {
			coldest, hottest = l.Lows.Least, l.Highs.Most
		}
		coldest, hottest = min(coldest, l.Lows.Least), max(hottest, l.Highs.Most)
	}
	return coldest, hottest
}
