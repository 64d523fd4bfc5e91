package chart

import (
	"encoding/xml"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// Measures of a picture, in pixels of CSS.
const (
	width   = 832
	height  = 227
	titled  = 42 // more height for a title, and the legend under it
	thumb   = 18 // a sign in the legend
	size    = 12 // of letters
	letter  = 6.6
	dashes  = "5 4"
	gap     = 6
	rightOf = 20
	under   = 24 // labels of X
)

// pen draws a chart into a frame; y grows downwards there.
type pen struct {
	out                      *strings.Builder
	chart                    *Chart
	left, right, top, bottom float64
}

// SVG is one picture, to stand in a page or in a file.
func (c *Chart) SVG() string { return Column(c) }

// Column is one picture of several charts, one below the other.
func Column(charts ...*Chart) string {
	var tall float64
	for _, c := range charts {
		tall += c.height()
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%s" viewBox="0 0 %d %s" font-family="Liberation Sans, DejaVu Sans, system-ui, sans-serif" font-size="%d">`,
		width, num(tall), width, num(tall), size)
	b.WriteString("\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n")
	var down float64
	for _, c := range charts {
		c.draw(&b, down)
		down += c.height()
	}
	b.WriteString("</svg>\n")
	return b.String()
}

func (c *Chart) height() float64 {
	if c.Title != "" {
		return height + titled
	}
	return height
}

func (c *Chart) draw(b *strings.Builder, down float64) {
	p := &pen{out: b, chart: c, right: width - rightOf, top: down + gap + 4, bottom: down + c.height() - under}
	if c.Title != "" {
		p.top += titled
	}
	if c.Y.Ticks == nil {
		c.Y.Ticks = Round(c.Y.Low, c.Y.High)
	}
	p.left = gap + letter*float64(widest(c.Y.Ticks)) + gap
	if c.Unit != "" {
		p.left += size + gap
	}
	p.axes()
	for _, l := range c.layers {
		l(p)
	}
	p.legend()
}

func widest(ticks []Tick) (n int) {
	for _, t := range ticks {
		n = max(n, utf8.RuneCountInString(t.Label))
	}
	return n
}

// axes draws grid, axes and words around the picture.
func (p *pen) axes() {
	c := p.chart
	for _, t := range c.X.Ticks {
		if t.At < c.X.Low || t.At > c.X.High {
			continue
		}
		p.stroke(p.x(t.At), p.top, p.x(t.At), p.bottom, faint, 1, "")
		p.text(p.x(t.At), p.bottom+16, t.Label, ink, "middle")
	}
	for _, t := range c.Y.Ticks {
		if t.At < c.Y.Low || t.At > c.Y.High {
			continue
		}
		p.stroke(p.left, p.y(t.At), p.right, p.y(t.At), faint, 1, "")
		p.text(p.left-gap, p.y(t.At)+4, t.Label, ink, "end")
	}
	p.stroke(p.left, p.top, p.left, p.bottom, Grey, 1, "")
	p.stroke(p.left, p.bottom, p.right, p.bottom, Grey, 1, "")
	if c.Title != "" {
		p.text((p.left+p.right)/2, p.top-titled+size+gap, c.Title, ink, "middle")
	}
	if c.Unit != "" {
		middle := (p.top + p.bottom) / 2
		fmt.Fprintf(p.out, `<text transform="translate(%s %s) rotate(-90)" text-anchor="middle" fill="%s">%s</text>`+"\n",
			num(size+2), num(middle), ink, escaped(c.Unit))
	}
}

// legend lists the names under the title, or at the top within the axes on a
// ground through which little shows.
func (p *pen) legend() {
	if len(p.chart.legend) == 0 {
		return
	}
	x, y := p.left+gap+2, p.top+size/2+2
	if p.chart.Title != "" {
		y = p.top - size
	}
	var long float64
	for _, e := range p.chart.legend {
		long += thumb + 2*gap + letter*float64(utf8.RuneCountInString(e.name)) + gap
	}
	fmt.Fprintf(p.out, `<rect x="%s" y="%s" width="%s" height="%d" fill="#fff" fill-opacity="0.8"/>`+"\n",
		num(x-4), num(y-size/2-2), num(min(long, p.right-x)+4), size+5)
	for _, e := range p.chart.legend {
		e.draw(p, x, y)
		p.text(x+thumb+gap, y+4, e.name, ink, "start")
		x += thumb + 2*gap + letter*float64(utf8.RuneCountInString(e.name)) + gap
	}
}

// x and y are where a value stands.
func (p *pen) x(v float64) float64 {
	return p.left + (p.right-p.left)*share(v, p.chart.X.Low, p.chart.X.High)
}

func (p *pen) y(v float64) float64 {
	return p.bottom - (p.bottom-p.top)*share(v, p.chart.Y.Low, p.chart.Y.High)
}

// share is how far v is from low to high, kept within them.
func share(v, low, high float64) float64 {
	if !(high > low) {
		return 0.5
	}
	return min(1, max(0, (v-low)/(high-low)))
}

// path draws through points; one that is no number parts it.
func (p *pen) path(points []Point, in Colour, dash string) {
	var b strings.Builder
	next := 'M'
	for _, q := range points {
		if math.IsNaN(q.Y) {
			next = 'M'
			continue
		}
		fmt.Fprintf(&b, "%c%s %s", next, num(p.x(q.X)), num(p.y(q.Y)))
		next = 'L'
	}
	fmt.Fprintf(p.out, `<path d="%s" fill="none" stroke="%s" stroke-width="1.2"%s/>`+"\n", b.String(), in, dashed(dash))
}

func (p *pen) stroke(x1, y1, x2, y2 float64, in Colour, wide float64, dash string) {
	fmt.Fprintf(p.out, `<path d="M%s %sL%s %s" stroke="%s" stroke-width="%s"%s/>`+"\n", num(x1), num(y1), num(x2), num(y2), in, num(wide), dashed(dash))
}

func dashed(dash string) string {
	if dash == "" {
		return ""
	}
	return ` stroke-dasharray="` + dash + `"`
}

func (p *pen) rect(x, y, w, h float64, in Colour) {
	fmt.Fprintf(p.out, `<rect x="%s" y="%s" width="%s" height="%s" fill="%s"/>`+"\n", num(x), num(y), num(w), num(h), in)
}

// bar draws a bar around column x from one height to another.
func (p *pen) bar(x, low, high float64, in Colour) {
	const filled = 0.8 // of a column
	wide := filled * (p.x(x+0.5) - p.x(x-0.5))
	p.rect(p.x(x)-wide/2, p.y(high), wide, p.y(low)-p.y(high), in)
}

func (p *pen) dot(x, y float64, in Colour, shape Shape) {
	const r = 2.4
	switch shape {
	case Ring:
		fmt.Fprintf(p.out, `<circle cx="%s" cy="%s" r="%s" fill="none" stroke="%s"/>`+"\n", num(x), num(y), num(r), in)
	case Triangle:
		fmt.Fprintf(p.out, `<path d="M%s %sL%s %sL%s %sZ" fill="%s"/>`+"\n", num(x), num(y-r-0.4), num(x+r+0.4), num(y+r), num(x-r-0.4), num(y+r), in)
	default:
		fmt.Fprintf(p.out, `<circle cx="%s" cy="%s" r="%s" fill="%s"/>`+"\n", num(x), num(y), num(r), in)
	}
}

func (p *pen) text(x, y float64, s string, in Colour, anchor string) {
	if s == "" {
		return
	}
	fmt.Fprintf(p.out, `<text x="%s" y="%s" text-anchor="%s" fill="%s">%s</text>`+"\n", num(x), num(y), anchor, in, escaped(s))
}

func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // into memory
	return b.String()
}

// num is a length to a tenth of a pixel.
func num(v float64) string {
	s := strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0")
	if s == "-0" {
		return "0"
	}
	return s
}
