package config

import (
	"cmp"
	"fmt"
	"slices"

	"benchtide/controller/quantity"
)

// drawing is a section through a bench, to scale in both directions. Places
// are in units of the picture, from its upper left corner.
type drawing struct {
	Title, Caption string
	Width, Height  float64
	Boxes          []box
	Lines          []stroke
	Labels         []label
	Pots           []string // outlines

	scale  float64         // units a metre
	origin quantity.Metres // height of the upper edge over the floor of the table
}

type box struct {
	X, Y, W, H float64
	Class      string
}

type stroke struct {
	X1, Y1, X2, Y2 float64
	Class          string
}

type label struct {
	X, Y  float64
	Text  string
	Class string
}

const (
	drawingWidth = 400.0
	lettering    = 13.0 // from one line of letters to the next
)

// y is where a height over the table's floor is in the picture.
func (d *drawing) y(height quantity.Metres) float64 { return float64(d.origin-height) * d.scale }

func (d *drawing) box(class string, x, width float64, from, to quantity.Metres) {
	d.Boxes = append(d.Boxes, box{x, d.y(to), width, d.y(from) - d.y(to), class})
}

func (d *drawing) line(class string, x1 float64, h1 quantity.Metres, x2 float64, h2 quantity.Metres) {
	d.Lines = append(d.Lines, stroke{x1, d.y(h1), x2, d.y(h2), class})
}

// vessel is a floor between two walls.
func (d *drawing) vessel(x, width float64, floor, rim quantity.Metres) {
	d.line("wall", x, floor, x+width, floor)
	d.line("wall", x, floor, x, rim)
	d.line("wall", x+width, floor, x+width, rim)
}

// level is a height and what a drawing says of it at its side.
type level struct {
	at   quantity.Metres
	text string
}

// height is a level over the floor of the table.
func (s *Site) height(name string, at quantity.Metres) level {
	return level{at, name + " " + s.Units.Mark(at)}
}

// levels draws leaders from x to texts at to, moved apart where they would lie
// on one another, and none higher than top.
func (d *drawing) levels(x, to, top float64, all ...level) {
	slices.SortFunc(all, func(a, b level) int { return cmp.Compare(b.at, a.at) })
	for i, l := range all {
		below := float64(len(all)-1-i) * lettering
		y := min(max(d.y(l.at), top), d.Height-4-below)
		top = y + lettering
		d.Lines = append(d.Lines, stroke{x, d.y(l.at), to - 4, y, "leader"})
		d.Labels = append(d.Labels, label{to, y + 4, l.text, "name"})
	}
}

// tankDepth is how deep a reservoir is drawn: the file does not say, and it is
// drawn as wide as it then has to be under half of the table's width.
const tankDepth quantity.Metres = 0.4

// elevation is the whole bench from the side.
func (s *Site) elevation(i int) drawing {
	b, res, sh := &s.Benches[i], &s.Reservoirs[s.Benches[i].Reservoir], &s.sheets[i]
	depth := tankDepth
	wide := quantity.Metres(float64(res.Usable) / 1000 / float64(depth) / float64(b.Table.Width/2))
	d := drawing{Width: drawingWidth, origin: b.Table.Rim + 0.12}
	d.scale = (drawingWidth - 90) / float64(max(b.Table.Length, wide+0.3))
	bottom := -b.Supply.Lift - depth
	d.Height = d.y(bottom) + 10
	d.Title = "From the side, to scale"
	d.Caption = fmt.Sprintf("Reservoir %s holds %s; the file does not give the reservoir's shape, so it is drawn %s deep and half as wide as the table.",
		s.Titles.Reservoir(res.Name), s.Units.Volume(res.Usable), s.Units.Span(depth))

	left, length := 10.0, float64(b.Table.Length)*d.scale
	d.box("water", left, length, 0, b.Standpipe.Crest+sh.OverflowHead)
	d.vessel(left, length, 0, b.Table.Rim)
	s.drawPots(&d, i, left+12, left+length-30)

	tank, width := left+length*0.1, float64(wide)*d.scale
	share := func(l quantity.Litres) quantity.Metres { return bottom + depth*quantity.Metres(l/res.Usable) }
	d.box("water", tank, width, bottom, share(res.Usable))
	d.box("deep", tank, width, bottom, share(sh.Left))
	d.box("kept", tank, width, bottom, share(res.Keep))
	d.vessel(tank, width, bottom, bottom+depth+0.06)

	hose, pipe := tank+width*0.2, tank+width*0.93
	d.box("pump", hose-7, 14, bottom+0.01, bottom+0.09)
	d.line("hose", hose, bottom+0.09, hose, 0)
	d.line("pipe", pipe, b.Standpipe.Crest, pipe, -b.Supply.Lift+0.03)
	d.line("measure", left+length+8, -b.Supply.Lift, left+length+8, 0)
	d.line("leader", tank+width, -b.Supply.Lift, left+length+12, -b.Supply.Lift)
	note := func(x float64, at quantity.Metres, text string) {
		d.Labels = append(d.Labels, label{x, d.y(at) + 4, text, "name"})
	}
	note(left+length+12, -b.Supply.Lift/2, "lift "+s.Units.Span(b.Supply.Lift))
	d.levels(tank+width, tank+width+20, d.y(-b.Supply.Lift)+lettering,
		level{share(res.Usable), s.Units.Volume(res.Usable) + " mark"},
		level{share(sh.Left), s.Units.Volume(sh.Left) + " left in a flood"},
		level{share(res.Keep), s.Units.Volume(res.Keep) + " kept"})
	note(hose+8, -b.Supply.Lift/2, "hose "+s.Units.Mark(b.Supply.Bore))
	note(left, b.Table.Rim+0.05, "table "+s.Units.Span(b.Table.Length)+" × "+s.Units.Span(b.Table.Width))
	return d
}

// detail is the corner of the table with the standpipe, large enough to tell
// its heights.
func (s *Site) detail(i int) drawing {
	b, sh := &s.Benches[i], &s.sheets[i]
	d := drawing{Width: drawingWidth, origin: max(b.Table.Rim, s.tallest(i)) + 0.008}
	const shown = 255.0
	d.scale = shown / 0.26
	d.Height = d.y(-0.014)
	d.Title = "The corner with the standpipe, to scale"
	d.Caption = "Heights above the floor of the table."

	peak := b.Standpipe.Crest + sh.OverflowHead
	d.box("water", 4, shown-4, 0, peak)
	s.drawPots(&d, i, 10, shown-30-float64(b.Standpipe.Bore)*d.scale)
	bore := float64(b.Standpipe.Bore) * d.scale
	pipe := shown - 18 - bore
	d.line("wall", 4, 0, pipe, 0)
	d.line("wall", pipe+bore, 0, shown, 0)
	d.line("wall", shown, 0, shown, b.Table.Rim)
	d.line("pipe", pipe, -0.014, pipe, b.Standpipe.Crest)
	d.line("pipe", pipe+bore, -0.014, pipe+bore, b.Standpipe.Crest)
	d.line("surface", 4, peak, shown, peak)

	names := []level{s.height("rim", b.Table.Rim), s.height("crest", b.Standpipe.Crest), {peak, "flood " + s.Units.Depth(peak)}}
	for _, f := range []struct {
		s    *Switch
		name string
	}{{b.Full, "FULL"}, {b.High, "HIGH"}} {
		if f.s != nil {
			names = append(names, s.height(f.name, f.s.At))
			d.line("float", shown-14, f.s.At, shown, f.s.At)
		}
	}
	d.levels(shown, shown+22, lettering, names...)
	return d
}

// drawPots sets a row of the bench's pots between two places.
func (s *Site) drawPots(d *drawing, i int, from, to float64) {
	pots := s.potsOn(i)
	if pots == nil {
		return
	}
	top, tall := float64(pots.Top)*d.scale, pots.Height()
	base := 0.7 * top
	for x := from; x+top <= to; x += top * 1.15 {
		d.Pots = append(d.Pots, fmt.Sprintf("%.1f,%.1f %.1f,%.1f %.1f,%.1f %.1f,%.1f",
			x, d.y(tall), x+top, d.y(tall), x+(top+base)/2, d.y(0), x+(top-base)/2, d.y(0)))
	}
}
