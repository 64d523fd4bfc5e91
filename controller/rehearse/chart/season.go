package chart

import (
	"fmt"
	"html/template"
	"image/color"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/controller/sheet"
)

var outcomeColours = map[controller.Outcome]color.Color{
	controller.Proven: blue, controller.Short: green, controller.Unproven: orange,
	controller.Interrupted: violet, controller.Skipped: silver, controller.Refused: rust, controller.Missed: grey,
}

// season is what the pictures are drawn from.
type season struct {
	site     *config.Site
	report   *rehearse.Report
	recorder *Recorder
	from, to time.Time
}

// picture is one figure of the page.
type picture struct {
	Title, Caption string
	SVG            template.HTML
}

// pictures draws all of them.
func (s *season) pictures() (all []picture, err error) {
	add := func(title, caption string, c *canvas) {
		svg, wrong := c.svg()
		if err == nil {
			err = wrong
		}
		all = append(all, picture{title, caption, svg})
	}
	for i, b := range s.site.Benches {
		add("Floods of "+b.Name, "How many floods of each day ended how.", s.floods(b.Name))
		add("Water on "+b.Name, "Depth over the floor of the table, as it really was.", s.depth(i))
		add("Fill and fall of "+b.Name, "Pump start to FULL, and pump stop to FULL clear, with the limits that the guard keeps; an upright line is a message on slow changes.", s.times(i))
	}
	for i, r := range s.site.Reservoirs {
		add("Water in "+r.Name, "What the reservoir held.", s.stock(i))
	}
	if len(s.site.Batches) > 0 {
		add("Water in the pots", fmt.Sprintf("As a share of what the pots hold after draining. Below %.0f %% plants begin to suffer (common practice).", 100*(1-sheet.Driest)), s.pots())
	}
	if len(s.report.Trips) > 0 {
		add("What the guard did", "Each time an interlock stopped or refused a run; a filled mark latched.", s.trips())
	}
	return all, err
}

func (s *season) canvas(unit string) *canvas { return newCanvas(unit, s.from, s.to) }

// floods stacks the outcomes of each day.
func (s *season) floods(bench string) *canvas {
	c := s.canvas("floods")
	width := pictureWidth * 0.8 / vg.Length(s.report.Days+1)
	var below *plotter.BarChart
	for _, o := range controller.Outcomes {
		counts, some := make(plotter.Values, s.report.Days), false
		for _, f := range s.report.Ledger {
			if n := s.day(f.Slot); f.Bench == bench && f.Outcome == o && n >= 0 && n < len(counts) {
				counts[n]++
				some = true
			}
		}
		if !some {
			continue
		}
		bars, err := plotter.NewBarChart(counts, width)
		if err != nil {
			c.fail(err)
			return c
		}
		bars.Color, bars.LineStyle.Width = outcomeColours[o], 0
		if below != nil {
			bars.StackOn(below)
		}
		below = bars
		c.Add(bars)
		c.Legend.Add(string(o), bars)
	}
	// Bars count their days from 0, and so does the axis under them.
	c.X.Min, c.X.Max = -0.5, float64(s.report.Days)-0.5
	c.X.Tick.Marker = s.dayNumbers()
	c.Y.Min, c.Y.Max = 0, c.Y.Max*1.35+0.5
	c.Y.Tick.Marker = whole{}
	return c
}

// whole marks whole numbers.
type whole struct{}

func (whole) Ticks(low, high float64) (ticks []plot.Tick) {
	for n := 0; float64(n) <= high; n++ {
		ticks = append(ticks, plot.Tick{Value: float64(n), Label: fmt.Sprint(n)})
	}
	return ticks
}

func (s *season) dayNumbers() (ticks plot.ConstantTicks) {
	every := max(1, (s.report.Days+11)/12)
	for n := 0; n < s.report.Days; n += every {
		ticks = append(ticks, plot.Tick{Value: float64(n), Label: s.from.AddDate(0, 0, n).Format("2 Jan")})
	}
	return ticks
}

// day is the number of the day of a stamp; -1 for one that is none.
func (s *season) day(stamp string) int {
	at, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return -1
	}
	y, m, d := at.Date() // as the clock on the wall showed it
	fy, fm, fd := s.from.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Sub(time.Date(fy, fm, fd, 0, 0, 0, 0, time.UTC)).Hours() / 24)
}

func (s *season) depth(i int) *canvas {
	c, b := s.canvas("mm"), &s.site.Benches[i]
	c.curve("", at(s.recorder.depth, i), blue)
	c.limit("rim", 1000*float64(b.Table.Rim))
	c.floor("crest", 1000*float64(b.Standpipe.Crest))
	if b.High != nil {
		c.limit("HIGH", 1000*float64(b.High.At))
	}
	c.Y.Min, c.Y.Max = 0, 1000*float64(b.Table.Rim)*1.1
	return c
}

func (s *season) stock(i int) *canvas {
	c, r := s.canvas("L"), &s.site.Reservoirs[i]
	c.curve("", at(s.recorder.stock, i), blue)
	c.limit("fill mark", float64(r.Usable))
	c.floor("kept", float64(r.Keep))
	c.Y.Min, c.Y.Max = 0, float64(r.Usable)*1.15
	return c
}

func (s *season) pots() *canvas {
	c := s.canvas("% of capacity")
	for i, b := range s.site.Batches {
		c.curve(b.Name, at(s.recorder.water, i), several[i%len(several)])
	}
	c.floor("plants suffer", 100*(1-sheet.Driest))
	c.Y.Min, c.Y.Max = 0, 125
	return c
}

func at(all []series, i int) series {
	if i < len(all) {
		return all[i]
	}
	return nil
}

// times are fill and fall flood by flood.
func (s *season) times(i int) *canvas {
	c, b := s.canvas("s"), &s.site.Benches[i]
	var fill, fall plotter.XYs
	for _, f := range s.report.Ledger {
		if f.Bench != b.Name || f.Started == nil {
			continue
		}
		x, ok := instant(*f.Started)
		if ok && f.FillS != nil {
			fill = append(fill, plotter.XY{X: x, Y: *f.FillS})
		}
		if ok && f.FallS != nil {
			fall = append(fall, plotter.XY{X: x, Y: *f.FallS})
		}
	}
	c.dots("fill", fill, blue, draw.CircleGlyph{})
	c.dots("fall", fall, orange, draw.TriangleGlyph{})
	sh := s.site.Sheet(i)
	if b.Full != nil {
		c.limit("fill at the latest", 1.5*sh.Fill.Seconds())
		c.floor("fill at the earliest", 0.5*sh.Fill.Seconds())
	}
	c.Y.Min, c.Y.Max = 0, max(c.Y.Max, 1.5*sh.Fill.Seconds())*1.12
	for _, m := range s.report.Slow {
		if x, ok := instant(m.At); ok && m.Bench == b.Name {
			c.mark(x)
		}
	}
	return c
}

func instant(stamp string) (float64, bool) {
	at, err := time.Parse(time.RFC3339, stamp)
	return seconds(at), err == nil
}

// trips are a line for each interlock that acted.
func (s *season) trips() *canvas {
	c := s.canvas("")
	var names []string
	var passed, latched plotter.XYs
	for _, t := range s.report.Trips {
		x, ok := instant(t.At)
		if !ok {
			continue
		}
		n := slices.Index(names, string(t.Interlock))
		if n < 0 {
			n, names = len(names), append(names, string(t.Interlock))
		}
		p := plotter.XY{X: x, Y: float64(n)}
		if t.Latched {
			latched = append(latched, p)
		} else {
			passed = append(passed, p)
		}
	}
	c.dots("passed", passed, orange, draw.RingGlyph{})
	c.dots("latched", latched, rust, draw.CircleGlyph{})
	var ticks plot.ConstantTicks
	for n, name := range names {
		ticks = append(ticks, plot.Tick{Value: float64(n), Label: name})
	}
	c.Y.Tick.Marker = ticks
	c.Y.Min, c.Y.Max = -0.7, float64(len(names))+0.3
	return c
}
