package demand

import (
	"fmt"
	"maps"
	"slices"
	"time"
)

// Reading is one of a sensor of temperature and humidity among the plants.
type Reading struct {
	At       time.Time // the civil time, as if it were UTC
	Air      Celsius
	Humidity Optional[Percent]
}

// Gauge makes days out of the readings of a sensor. Readings that no air has,
// that are known as false, or of a sensor that has stopped are refused, and a
// day of which too little is left is none: plants are then reckoned by the
// climate of the file, and the schedule goes on as it is. The zero Gauge is
// ready.
type Gauge struct {
	days  map[time.Time]*hours // by midnight
	last  Reading
	since time.Time // the readings have been like last from here on
}

// hours are the readings of one day.
type hours struct {
	low, high Celsius
	humidity  float64 // sum
	damp      int     // readings in that sum
	seen      [24]bool
}

const (
	// stuckFor is how long air in which plants stand may read the same to the
	// last digit (judgement, no source).
	stuckFor = 6 * time.Hour
	// enoughHours of a day have to be read for its low and high to be among them
	// (judgement, no source).
	enoughHours = 18
)

// Take takes the next reading, or refuses it with the reason.
func (g *Gauge) Take(r Reading) error {
	if err := Believe(r.Air); err != nil {
		return err
	}
	if err := keep("humidity", &r.Humidity, 0, 100, "%"); err != nil {
		return err
	}
	if r.At.Before(g.last.At) {
		return fmt.Errorf("%s comes after %s", r.At.Format(time.DateTime), g.last.At.Format(time.DateTime))
	}
	if r.Air != g.last.Air || r.Humidity != g.last.Humidity || g.since.IsZero() {
		g.since = r.At
	}
	g.last = r
	if stood := r.At.Sub(g.since); stood >= stuckFor {
		return unlikely{fmt.Sprintf("%%s for %.0f h: the sensor looks frozen", stood.Hours()), []Celsius{r.Air}}
	}
	g.add(r)
	return nil
}

func (g *Gauge) add(r Reading) {
	date := r.At.Truncate(day)
	h := g.days[date]
	if h == nil {
		h = &hours{low: r.Air, high: r.Air}
		if g.days == nil {
			g.days = map[time.Time]*hours{}
		}
		g.days[date] = h
	}
	h.low, h.high = min(h.low, r.Air), max(h.high, r.Air)
	h.seen[r.At.Hour()] = true
	if damp, ok := r.Humidity.Get(); ok {
		h.humidity += float64(damp)
		h.damp++
	}
}

// Days are the days that were read well enough, in order, and how many were
// not.
func (g *Gauge) Days() (days []Record, short int) {
	for _, date := range slices.SortedFunc(maps.Keys(g.days), time.Time.Compare) {
		h := g.days[date]
		if h.read() < enoughHours {
			short++
			continue
		}
		rec := Record{Date: date, Day: Day{YearDay: date.YearDay(), Low: h.low, High: h.high}}
		if h.damp > 0 {
			rec.Humidity = Known(Percent(h.humidity / float64(h.damp)))
		}
		days = append(days, rec)
	}
	return days, short
}

// read is in how many hours there was a reading.
func (h *hours) read() (n int) {
	for _, seen := range h.seen {
		if seen {
			n++
		}
	}
	return n
}
