package chart

import (
	"bytes"
	"fmt"
	"html/template"
	"image/color"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

const (
	pictureWidth  = 22 * vg.Centimeter
	pictureHeight = 6 * vg.Centimeter
)

// The colours, apart from one another also for eyes that see no red or green.
var (
	blue   = color.RGBA{0x1f, 0x77, 0xa4, 0xff}
	orange = color.RGBA{0xd9, 0x7b, 0x16, 0xff}
	silver = color.RGBA{0xc4, 0xc8, 0xcc, 0xff}
	rust   = color.RGBA{0xa8, 0x3a, 0x1c, 0xff}
	green  = color.RGBA{0x3f, 0x8f, 0x6b, 0xff}
	violet = color.RGBA{0x7b, 0x5a, 0xa6, 0xff}
	grey   = color.RGBA{0x8c, 0x96, 0x98, 0xff}
	faint  = color.RGBA{0xdd, 0xe3, 0xe4, 0xff}
)

var several = []color.Color{blue, orange, green, violet, rust, grey}

// canvas is one picture over the days of the rehearsal.
type canvas struct {
	*plot.Plot
	from, to float64
	err      error
}

func newCanvas(unit string, from, to time.Time) *canvas {
	c := &canvas{Plot: plot.New(), from: seconds(from), to: seconds(to)}
	sans := font.Font{Typeface: "Liberation", Variant: "Sans", Size: 9}
	c.Y.Label.Text = unit
	for _, a := range []*plot.Axis{&c.X, &c.Y} {
		a.Label.TextStyle.Font, a.Tick.Label.Font = sans, sans
		a.LineStyle.Color, a.Tick.LineStyle.Color = grey, grey
	}
	c.Legend.TextStyle.Font = sans
	c.Legend.Top, c.Legend.Left, c.Legend.XOffs = true, true, 4
	c.Legend.ThumbnailWidth, c.Legend.Padding = 14, 2
	c.X.Min, c.X.Max = c.from, c.to
	c.X.Tick.Marker = days(from, to)
	grid := plotter.NewGrid()
	grid.Vertical.Color, grid.Horizontal.Color = faint, faint
	c.Add(grid)
	return c
}

// days marks midnights, at most a dozen of them.
func days(from, to time.Time) plot.ConstantTicks {
	n := int(to.Sub(from).Hours()/24 + 0.5)
	every := max(1, (n+11)/12)
	var ticks plot.ConstantTicks
	for i := 0; i <= n; i++ {
		t := plot.Tick{Value: seconds(from.AddDate(0, 0, i))}
		if i%every == 0 && i < n {
			t.Label = from.AddDate(0, 0, i).Format("2 Jan")
		}
		if i%every == 0 || n <= 60 {
			ticks = append(ticks, t)
		}
	}
	return ticks
}

func (c *canvas) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

// curve draws a series; its name goes into the legend when it has one.
func (c *canvas) curve(name string, s series, in color.Color) {
	for _, piece := range s.pieces() {
		l, err := plotter.NewLine(piece)
		if err != nil {
			c.fail(err)
			return
		}
		l.Color, l.Width = in, 0.9
		c.Add(l)
		if name != "" {
			c.Legend.Add(name, l)
			name = ""
		}
	}
}

// limit draws a height that matters, with its name over it at the right.
func (c *canvas) limit(name string, at float64) { c.bound(name, at, 2, 0) }

// floor is a limit with its name under it.
func (c *canvas) floor(name string, at float64) { c.bound(name, at, -2, -1) }

func (c *canvas) bound(name string, at float64, off vg.Length, align text.YAlignment) {
	l, err := plotter.NewLine(plotter.XYs{{X: c.from, Y: at}, {X: c.to, Y: at}})
	if err != nil {
		c.fail(err)
		return
	}
	l.Color, l.Width, l.Dashes = rust, 0.8, []vg.Length{4, 3}
	labels, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{{X: c.to, Y: at}}, Labels: []string{name}})
	if err != nil {
		c.fail(err)
		return
	}
	labels.TextStyle[0].Font = c.Legend.TextStyle.Font
	labels.TextStyle[0].Color, labels.TextStyle[0].XAlign, labels.TextStyle[0].YAlign = rust, text.XRight, align
	labels.Offset = vg.Point{X: -12, Y: off}
	c.Add(l, labels)
}

// dots draws points of one kind.
func (c *canvas) dots(name string, points plotter.XYs, in color.Color, shape draw.GlyphDrawer) {
	if len(points) == 0 {
		return
	}
	s, err := plotter.NewScatter(points)
	if err != nil {
		c.fail(err)
		return
	}
	s.GlyphStyle = draw.GlyphStyle{Color: in, Radius: 1.6, Shape: shape}
	c.Add(s)
	if name != "" {
		c.Legend.Add(name, s)
	}
}

// mark draws an upright line at a time that matters.
func (c *canvas) mark(at float64) {
	l, err := plotter.NewLine(plotter.XYs{{X: at, Y: c.Y.Min}, {X: at, Y: c.Y.Max}})
	if err != nil {
		c.fail(err)
		return
	}
	l.Color, l.Width = violet, 1.2
	c.Add(l)
}

// svg is the picture, to stand in a page.
func (c *canvas) svg() (template.HTML, error) {
	if c.err != nil {
		return "", fmt.Errorf("draw: %w", c.err)
	}
	v := vgsvg.NewWith(vgsvg.UseWH(pictureWidth, pictureHeight), vgsvg.EmbedFonts(false))
	c.Draw(draw.New(v))
	var b bytes.Buffer
	if _, err := v.WriteTo(&b); err != nil {
		return "", fmt.Errorf("draw: %w", err)
	}
	_, picture, _ := strings.Cut(b.String(), "<svg")
	return template.HTML("<svg" + picture), nil // drawn by the library, which escapes its texts
}
