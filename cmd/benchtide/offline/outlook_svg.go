package offline

import (
	"fmt"
	"io"

	"benchtide/controller/chart"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/schedule"
)

// writeSVG draws the water in the pots of each batch, one below the other.
func (o outlookPaper) writeSVG(w io.Writer) error {
	var charts []*chart.Chart
	for i := range o.Batches {
		charts = append(charts, o.chartOf(&o.Batches[i]))
	}
	if len(charts) == 0 {
		charts = append(charts, &chart.Chart{Title: "No batch stands on a bench in these days."})
	}
	_, err := io.WriteString(w, chart.Column(charts...))
	return err
}

var kindColours = [len(grow.Kinds)]chart.Colour{chart.Blue, chart.Green, chart.Orange}

// chartOf draws a batch: the courses of the kinds of day, the limit, and a dot on
// the upper edge for each flood.
func (o outlookPaper) chartOf(b *outlook.Batch) *chart.Chart {
	days := float64(b.Days)
	floor := b.Limit
	for k := range b.Courses {
		floor = min(floor, b.Courses[k].Lowest)
	}
	c := &chart.Chart{
		Title: fmt.Sprintf("%s: water in a pot, %% of what it holds", o.Site.Titles.Batch(o.Site.Batches[b.Batch].Name)),
		X:     chart.Axis{High: days, Ticks: dateTicks(b.From, b.Days)}, Y: chart.Axis{Low: 100*floor - 5, High: 101},
	}
	for k := range b.Courses {
		c.Line(b.Courses[k].Kind.String(), points(b.From, b.Courses[k].Points), kindColours[k])
	}
	c.Dashed("limit", []chart.Point{{X: 0, Y: 100 * b.Limit}, {X: days, Y: 100 * b.Limit}}, chart.Rust)
	var floods []chart.Point
	for _, f := range b.Floods {
		floods = append(floods, chart.Point{X: dayOf(b.From, f.Slot.Local), Y: 100.5})
	}
	c.Dots("flood", floods, chart.Violet, chart.Disc)
	return c
}

func points(from schedule.Date, points []grow.Point) []chart.Point {
	all := make([]chart.Point, len(points))
	for i, q := range points {
		all[i] = chart.Point{X: dayOf(from, q.At), Y: 100 * q.Share}
	}
	return all
}

func dayOf(from schedule.Date, at schedule.Civil) float64 { return float64(at-from.At(0)) / 86400 }

func dateTicks(from schedule.Date, days int) []chart.Tick {
	return chart.Every(days+1, func(i int) float64 { return float64(i) }, func(i int) string {
		d := from.AddDays(i)
		return fmt.Sprintf("%d %s", d.Day(), d.Month().String()[:3])
	})
}
