package chart

import (
	"math"
	"slices"
)

// Point is a place in a picture, in the units of its axes.
type Point struct{ X, Y float64 }

// Tick is a mark on an axis; without a label it is a line alone.
type Tick struct {
	At    float64
	Label string
}

// Axis is what an axis shows. Without ticks it finds round numbers itself.
type Axis struct {
	Low, High float64
	Ticks     []Tick
}

// Colour is a colour of CSS.
type Colour string

// Colours apart from one another also for eyes that see no red or green.
const (
	Blue   Colour = "#1f77a4"
	Orange Colour = "#d97b16"
	Silver Colour = "#c4c8cc"
	Rust   Colour = "#a83a1c"
	Green  Colour = "#3f8f6b"
	Violet Colour = "#7b5aa6"
	Grey   Colour = "#8c9698"

	faint Colour = "#dde3e4"
	ink   Colour = "#1c2a2e"
)

// Several are colours of series that stand side by side.
var Several = []Colour{Blue, Orange, Green, Violet, Rust, Grey}

// Shape is the look of a point.
type Shape int

// The shapes of points.
const (
	Disc Shape = iota
	Ring
	Triangle
)

// Chart is one picture. X is given whole; Y grows to what is drawn unless it is
// set.
type Chart struct {
	Title, Unit string // over the picture, and beside its upright axis
	X, Y        Axis

	layers []layer
	legend []entry
	stack  []float64 // how high the bars of each column stand
}

// layer is something drawn within the axes.
type layer func(*pen)

type entry struct {
	name string
	draw func(p *pen, x, y float64) // its sign, around the middle of a line
}

// Line draws a series through points of ascending X; its name goes into the legend
// when it has one.
func (c *Chart) Line(name string, points []Point, in Colour) {
	c.see(points)
	c.layers = append(c.layers, func(p *pen) { p.path(points, in, "") })
	c.name(name, func(p *pen, x, y float64) { p.stroke(x, y, x+thumb, y, in, 1.6, "") })
}

// Dashed is Line for a series that is a limit.
func (c *Chart) Dashed(name string, points []Point, in Colour) {
	c.see(points)
	c.layers = append(c.layers, func(p *pen) { p.path(points, in, dashes) })
	c.name(name, func(p *pen, x, y float64) { p.stroke(x, y, x+thumb, y, in, 1.2, dashes) })
}

// Above draws a height that matters across the picture, its name over the line at
// the right.
func (c *Chart) Above(name string, at float64) { c.bound(name, at, -4) }

// Below is Above with the name under the line.
func (c *Chart) Below(name string, at float64) { c.bound(name, at, 11) }

func (c *Chart) bound(name string, at, off float64) {
	c.see([]Point{{c.X.Low, at}})
	c.layers = append(c.layers, func(p *pen) {
		p.stroke(p.left, p.y(at), p.right, p.y(at), Rust, 1, dashes)
		p.text(p.right-12, p.y(at)+off, name, Rust, "end")
	})
}

// Dots draws points of one kind; nothing where there are none.
func (c *Chart) Dots(name string, points []Point, in Colour, shape Shape) {
	if len(points) == 0 {
		return
	}
	c.see(points)
	c.layers = append(c.layers, func(p *pen) {
		for _, q := range points {
			p.dot(p.x(q.X), p.y(q.Y), in, shape)
		}
	})
	c.name(name, func(p *pen, x, y float64) { p.dot(x+thumb/2, y, in, shape) })
}

// Bars stacks a bar of each height on what stands in its column already; column i
// is around X = i.
func (c *Chart) Bars(name string, heights []float64, in Colour) {
	c.stack = append(c.stack, make([]float64, max(0, len(heights)-len(c.stack)))...)
	from := slices.Clone(c.stack)
	for i, h := range heights {
		c.stack[i] += h
		c.see([]Point{{float64(i), c.stack[i]}})
	}
	c.layers = append(c.layers, func(p *pen) {
		for i, h := range heights {
			if h > 0 {
				p.bar(float64(i), from[i], from[i]+h, in)
			}
		}
	})
	c.name(name, func(p *pen, x, y float64) { p.rect(x, y-4, thumb, 8, in) })
}

// Mark draws an upright line at an X that matters.
func (c *Chart) Mark(at float64) {
	c.layers = append(c.layers, func(p *pen) { p.stroke(p.x(at), p.top, p.x(at), p.bottom, Violet, 1.5, "") })
}

// see stretches Y to points.
func (c *Chart) see(points []Point) {
	for _, q := range points {
		if !math.IsNaN(q.Y) {
			c.Y.Low, c.Y.High = min(c.Y.Low, q.Y), max(c.Y.High, q.Y)
		}
	}
}

func (c *Chart) name(name string, draw func(p *pen, x, y float64)) {
	if name != "" {
		c.legend = append(c.legend, entry{name, draw})
	}
}
