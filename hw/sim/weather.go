package sim

import (
	"fmt"
	"math"
	"time"

	"benchtide/schedule/demand"
)

const day = 24 * time.Hour

// Weather drives the plants and the temperature of the solution. Times count
// from the start of the world.
type Weather interface {
	// Use is the water that plants with a factor of 1 use between two
	// instants, L/m².
	Use(from, to time.Duration) float64
	// Solution is the temperature in °C that solution left alone tends to.
	Solution(at time.Duration) float64
}

// Climate is a kind of weather: its days lie in one part of the spans of a
// climate line, and the solution goes with it.
type Climate struct {
	Part     demand.Span[float64] // of the spans, 0 at the coolest, dampest and dullest
	Mean     float64              // °C of the solution over a day
	Swing    float64              // °C up and down from it within a day
	Changing float64              // °C that the mean of one day may differ
}

// Climates. Which part of a climate is mild or hot, and the solution at the
// 12–26 °C that growers keep it at, are common practice, no source.
var (
	Mild   = Climate{Part: demand.Span[float64]{Least: 0, Most: 0.4}, Mean: 16, Swing: 1.5, Changing: 1.5}
	Normal = Climate{Part: demand.Span[float64]{Least: 0.1, Most: 0.9}, Mean: 19, Swing: 2, Changing: 2}
	Hot    = Climate{Part: demand.Span[float64]{Least: 0.7, Most: 1}, Mean: 22, Swing: 2, Changing: 1.5}
)

// Glasshouse is a place and a climate line for a site whose own are not known.
var (
	Glasshouse     = demand.Location{Latitude: 50, Cover: 0.7}
	GlasshouseLine = demand.Line{
		Lows: demand.Span[demand.Celsius]{Least: 10, Most: 18}, Highs: demand.Span[demand.Celsius]{Least: 18, Most: 34},
		Humidity: demand.Span[demand.Percent]{Least: 40, Most: 85}, Light: demand.Span[demand.Megajoules]{Least: 4, Most: 27},
	}
)

// Days are days of one climate, each drawn from Seed on its own.
type Days struct {
	Climate  Climate
	Location demand.Location
	Line     func(time.Month) demand.Line
	First    time.Time     // midnight UTC stands for the date on which the world starts
	Offset   time.Duration // time of day then, 0 to 24 h
	Seed     uint64

	today today
}

// usual is the weather of a world that names none.
func usual(first time.Time, seed uint64) *Days {
	return &Days{
		Climate: Normal, Location: Glasshouse, Seed: seed, First: midnight(first),
		Line: func(time.Month) demand.Line { return GlasshouseLine },
	}
}

func midnight(t time.Time) time.Time { return t.UTC().Truncate(day) }

// check refuses lines of which no day can be made.
func (d *Days) check() error {
	for m := time.January; m <= time.December; m++ {
		middle := time.Date(2001, m, 15, 0, 0, 0, 0, time.UTC)
		if _, err := d.Line(m).Climate(d.Location, middle.YearDay()); err != nil {
			return fmt.Errorf("weather of %s: %w", m, err)
		}
	}
	return nil
}

func (d *Days) date(n time.Duration) time.Time { return d.First.AddDate(0, 0, int(n)) }

// water is the reference use and the light hours of day n.
func (d *Days) water(n time.Duration) (demand.Weather, error) {
	c, err := d.narrow(n).Climate(d.Location, d.date(n).YearDay())
	c.Normal.Reference *= demand.Millimetres(0.9 + 0.2*unit(d.Seed+2, uint64(n)))
	return c.Normal, err
}

// narrow is the climate line with nothing but day n in its spans, which stand for
// its three kinds of day.
func (d *Days) narrow(n time.Duration) demand.Line {
	sun, air := d.draw(d.Seed, n), d.draw(d.Seed+1, n)
	air = (sun + air) / 2 // bright days are mostly warm and dry ones
	l := d.Line(d.date(n).Month())
	return demand.Line{Lows: at(l.Lows, air), Highs: at(l.Highs, air), Humidity: at(l.Humidity, 1-air), Light: at(l.Light, sun)}
}

// Record is day n as a sensor of temperature and humidity among the plants has it.
func (d *Days) Record(n int) demand.Record {
	l, date := d.narrow(time.Duration(n)), d.date(time.Duration(n))
	return demand.Record{Date: date, Day: demand.Day{
		YearDay: date.YearDay(), Low: l.Lows.Least, High: l.Highs.Least, Humidity: demand.Known(l.Humidity.Least),
	}}
}

func (d *Days) draw(seed uint64, n time.Duration) float64 {
	return d.Climate.Part.Least + (d.Climate.Part.Most-d.Climate.Part.Least)*unit(seed, uint64(n))
}

func at[Q ~float64](s demand.Span[Q], share float64) demand.Span[Q] {
	q := s.Least + (s.Most-s.Least)*Q(share)
	return demand.Span[Q]{Least: q, Most: q}
}

// Use follows half a sine over the light hours of each day.
func (d *Days) Use(from, to time.Duration) float64 {
	return d.today.use(from+d.Offset, to+d.Offset, d.water)
}

// Solution is warmest at four in the afternoon.
func (d *Days) Solution(at time.Duration) float64 {
	at += d.Offset
	return d.Climate.Mean + d.Climate.Changing*(2*blend(at, func(n time.Duration) float64 { return unit(d.Seed+3, uint64(n)) })-1) +
		d.Climate.Swing*warmest(at)
}

// warmest swings from 1 at four in the afternoon to -1 at four in the morning.
func warmest(at time.Duration) float64 {
	return math.Cos(2 * math.Pi * float64(at%day-16*time.Hour) / float64(day))
}

// blend goes from one day's value to the next without a step.
func blend(at time.Duration, of func(n time.Duration) float64) float64 {
	n := at / day
	x := float64(at-n*day) / float64(day)
	return (1-x)*of(n) + x*of(n+1)
}

// today remembers the day that was worked out last, as a world asks for each
// of its days many times.
type today struct {
	known bool
	n     time.Duration
	demand.Weather

	until time.Duration // time of day of the last question, and the share of light that had passed then
	share float64
}

func (t *today) use(from, to time.Duration, water func(time.Duration) (demand.Weather, error)) float64 {
	var sum float64
	for n := from / day; n*day < to; n++ {
		if !t.known || t.n != n {
			t.Weather, _ = water(n) // a world checks its weather before it starts
			t.known, t.n, t.until = true, n, -1
		}
		before := t.passed(max(from-n*day, 0))
		sum += max(0, (t.passed(min(to-n*day, day))-before)*float64(t.Reference))
	}
	return sum
}

// passed is the share of the day's light that has passed. What one question ends
// with the next one begins with.
func (t *today) passed(at time.Duration) float64 {
	if at != t.until {
		t.until, t.share = at, passed(t.Shine, at)
	}
	return t.share
}

// passed is the share of a day's light that has passed at a time of day.
func passed(s demand.Shine, at time.Duration) float64 {
	switch {
	case at <= s.Rise:
		return 0
	case at >= s.Set:
		return 1
	}
	return (1 - math.Cos(math.Pi*float64(at-s.Rise)/float64(s.Set-s.Rise))) / 2
}

// unit draws from [0, 1) for a seed and a number, by the finaliser of SplitMix64
// (Steele, Lea, Flood, OOPSLA 2014; constants from memory), so that a day's
// weather does not depend on what was asked before.
func unit(seed, n uint64) float64 {
	x := seed*0x9e3779b97f4a7c15 + (n+1)*0xbf58476d1ce4e5b9
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return float64((x^x>>31)>>11) / (1 << 53)
}
