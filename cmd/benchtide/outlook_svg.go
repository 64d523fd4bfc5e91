package main

import (
	"fmt"
	"image/color"
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/schedule"
)

const (
	svgWidth  = 22 * vg.Centimeter
	svgHeight = 7 * vg.Centimeter // of one batch
)

// writeSVG draws the water in the pots of each batch, one below the other.
func (o outlookPaper) writeSVG(w io.Writer) error {
	rows := max(1, len(o.Batches))
	c := vgsvg.New(svgWidth, vg.Length(rows)*svgHeight)
	tiles := draw.Tiles{Rows: rows, Cols: 1}
	for i := range o.Batches {
		p, err := o.plotOf(&o.Batches[i])
		if err != nil {
			return fmt.Errorf("draw %s: %w", o.Site.Batches[o.Batches[i].Batch].Name, err)
		}
		p.Draw(tiles.At(draw.New(c), 0, i))
	}
	_, err := c.WriteTo(w)
	return err
}

// Colours of the kinds of day, apart also for eyes that see no red or green.
var kindColours = [len(grow.Kinds)]color.Color{
	color.RGBA{0x1f, 0x77, 0xa4, 0xff}, color.RGBA{0x3f, 0x8f, 0x6b, 0xff}, color.RGBA{0xd9, 0x7b, 0x16, 0xff},
}

func (o outlookPaper) plotOf(b *outlook.Batch) (*plot.Plot, error) {
	p := plot.New()
	sans := font.Font{Typeface: "Liberation", Variant: "Sans", Size: 9}
	p.Title.Text = fmt.Sprintf("%s: water in a pot, %% of what it holds", o.Site.Batches[b.Batch].Name)
	p.Title.TextStyle.Font, p.Legend.TextStyle.Font = sans, sans
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Tick.Label.Font = sans
	}
	p.X.Tick.Marker = dateTicks(b.From, b.Days)
	p.Legend.Left = true
	floor := b.Limit
	for k := range b.Courses {
		c := &b.Courses[k]
		floor = min(floor, c.Lowest)
		line, err := plotter.NewLine(xys(b.From, c.Points))
		if err != nil {
			return nil, err
		}
		line.Color = kindColours[k]
		p.Add(line)
		p.Legend.Add(c.Kind.String(), line)
	}
	if err := addLimit(p, b); err != nil {
		return nil, err
	}
	p.Y.Min, p.Y.Max = 100*floor-5, 101
	return p, nil
}

// addLimit draws the limit, and a dot on the upper edge for each flood.
func addLimit(p *plot.Plot, b *outlook.Batch) error {
	limit, err := plotter.NewLine(plotter.XYs{{X: 0, Y: 100 * b.Limit}, {X: float64(b.Days), Y: 100 * b.Limit}})
	if err != nil {
		return err
	}
	limit.Dashes = []vg.Length{4, 3}
	var at plotter.XYs
	for _, f := range b.Floods {
		at = append(at, plotter.XY{X: dayOf(b.From, f.Slot.Local), Y: 100.5})
	}
	p.Add(limit)
	p.Legend.Add("limit", limit)
	if len(at) == 0 {
		return nil
	}
	floods, err := plotter.NewScatter(at)
	if err != nil {
		return err
	}
	floods.Radius = 1.5
	p.Add(floods)
	p.Legend.Add("flood", floods)
	return nil
}

func xys(from schedule.Date, points []grow.Point) plotter.XYs {
	all := make(plotter.XYs, len(points))
	for i, q := range points {
		all[i] = plotter.XY{X: dayOf(from, q.At), Y: 100 * q.Share}
	}
	return all
}

func dayOf(from schedule.Date, at schedule.Civil) float64 { return float64(at-from.At(0)) / 86400 }

func dateTicks(from schedule.Date, days int) plot.ConstantTicks {
	every := max(1, (days+11)/12)
	var ticks plot.ConstantTicks
	for i := 0; i <= days; i += every {
		d := from.AddDays(i)
		ticks = append(ticks, plot.Tick{Value: float64(i), Label: fmt.Sprintf("%d %s", d.Day(), d.Month().String()[:3])})
	}
	return ticks
}
