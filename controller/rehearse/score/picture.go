package score

import (
	"fmt"

	"benchtide/controller/chart"
)

// Picture draws how often the truth lay in the span of each figure, and below it each
// figure as it was stated against what was true.
func (r *Report) Picture() string {
	covered := &chart.Chart{Title: "How often the truth lay in the span of 9 in 10", Unit: "%", X: chart.Axis{Low: -0.5, High: float64(len(r.Figures)) - 0.5}}
	covered.Y.High = 100
	stated, assumed := make([]float64, len(r.Figures)), make([]float64, len(r.Figures))
	charts := []*chart.Chart{covered}
	for i := range r.Figures {
		f := &r.Figures[i]
		covered.X.Ticks = append(covered.X.Ticks, chart.Tick{At: float64(i), Label: fmt.Sprint(i + 1)})
		bars := assumed
		if f.Spanned {
			bars = stated
		}
		bars[i] = 100 * f.Coverage
		if f.N > 0 {
			charts = append(charts, f.scatter(i+1))
		}
	}
	covered.Bars("a span that is stated", stated, chart.Blue)
	covered.Bars("a quarter either way, where none is", assumed, chart.Silver)
	covered.Above("9 in 10", 100*nominal)
	return chart.Column(charts...)
}

// scatter draws a figure, a dot for each bench: right ones lie on the line.
func (f *Figure) scatter(number int) *chart.Chart {
	c := &chart.Chart{Title: fmt.Sprintf("%d: %s, stated against true", number, f.Name), Unit: f.Unit}
	var within, outside []chart.Point
	for _, o := range f.points {
		c.X.High = max(c.X.High, 1.05*o.Truth)
		p := chart.Point{X: o.Truth, Y: o.Stated.Value}
		if o.Stated.Low <= o.Truth && o.Truth <= o.Stated.High {
			within = append(within, p)
		} else {
			outside = append(outside, p)
		}
	}
	c.X.Ticks = chart.Round(0, c.X.High)
	c.Line("as stated", []chart.Point{{}, {X: c.X.High, Y: c.X.High}}, chart.Grey)
	c.Dots("true within the span", within, chart.Blue, chart.Disc)
	c.Dots("true outside of it", outside, chart.Orange, chart.Ring)
	return c
}
