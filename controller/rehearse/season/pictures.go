package season

import (
	"fmt"
	"html/template"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/chart"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/controller/sheet"
)

var outcomeColours = map[controller.Outcome]chart.Colour{
	controller.Proven: chart.Blue, controller.Short: chart.Green, controller.Unproven: chart.Orange,
	controller.Interrupted: chart.Violet, controller.Skipped: chart.Silver, controller.Refused: chart.Rust, controller.Missed: chart.Grey,
}

// drawing is what the pictures are drawn from.
type drawing struct {
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
func (s *drawing) pictures() (all []picture) {
	add := func(title, caption string, c *chart.Chart) {
		all = append(all, picture{title, caption, template.HTML(c.SVG())}) // its texts are escaped
	}
	for i, b := range s.site.Benches {
		bench := s.site.Titles.Bench(b.Name)
		add("Floods of "+bench, "How many floods of each day ended how.", s.floods(b.Name))
		add("Water on "+bench, "Depth over the floor of the table, as it really was.", s.depth(i))
		add("Fill and fall of "+bench, "Pump start to FULL, and pump stop to FULL clear, with the limits that the guard keeps; an upright line is a message on slow changes.", s.times(i))
	}
	for i, r := range s.site.Reservoirs {
		add("Water in "+s.site.Titles.Reservoir(r.Name), "What the reservoir held.", s.stock(i))
	}
	if len(s.site.Batches) > 0 {
		add("Water in the pots", fmt.Sprintf("As a share of what the pots hold after draining. Below %.0f %% plants begin to suffer (common practice).", 100*(1-sheet.Driest)), s.pots())
	}
	if len(s.report.Trips) > 0 {
		add("What the guard did", "Each time an interlock stopped or refused a run; a filled mark latched.", s.trips())
	}
	return all
}

// over is an empty picture over the days of the rehearsal, with midnights marked.
func (s *drawing) over(unit string) *chart.Chart {
	c := &chart.Chart{Unit: unit, X: chart.Axis{Low: seconds(s.from), High: seconds(s.to)}}
	c.X.Ticks = chart.Every(s.report.Days, func(n int) float64 { return seconds(s.from.AddDate(0, 0, n)) }, s.date)
	return c
}

// date is the name of day n.
func (s *drawing) date(n int) string { return s.from.AddDate(0, 0, n).Format("2 Jan") }

// floods stacks the outcomes of each day.
func (s *drawing) floods(bench string) *chart.Chart {
	days := s.report.Days
	c := &chart.Chart{Unit: "floods", X: chart.Axis{Low: -0.5, High: float64(days) - 0.5}}
	c.X.Ticks = chart.Every(days, func(n int) float64 { return float64(n) }, s.date)
	for _, o := range controller.Outcomes {
		counts, some := make([]float64, days), false
		for _, f := range s.report.Ledger {
			if n := s.day(f.Slot); f.Bench == bench && f.Outcome == o && n >= 0 && n < days {
				counts[n]++
				some = true
			}
		}
		if some {
			c.Bars(string(o), counts, outcomeColours[o])
		}
	}
	c.Y.High = c.Y.High*1.35 + 0.5
	c.Y.Ticks = chart.Whole(c.Y.High)
	return c
}

// day is the number of the day of a stamp; -1 for one that is none.
func (s *drawing) day(stamp string) int {
	at, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return -1
	}
	y, m, d := at.Date() // as the clock on the wall showed it
	fy, fm, fd := s.from.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Sub(time.Date(fy, fm, fd, 0, 0, 0, 0, time.UTC)).Hours() / 24)
}

// heights is the unit of heights of water, and how many of it are a metre.
func (s *drawing) heights() (symbol string, scale float64) {
	unit := s.site.Units.HeightUnit()
	return unit.Symbol, float64(1 / unit.Size)
}

// scaled are points times so much.
func scaled(points []chart.Point, by float64) []chart.Point {
	for i := range points {
		points[i].Y *= by
	}
	return points
}

func (s *drawing) depth(i int) *chart.Chart {
	symbol, scale := s.heights()
	c, b := s.over(symbol), &s.site.Benches[i]
	c.Line("", scaled(at(s.recorder.depth, i).points(), scale/1000), chart.Blue)
	c.Above("rim", scale*float64(b.Table.Rim))
	c.Below("crest", scale*float64(b.Standpipe.Crest))
	if b.High != nil {
		c.Above("HIGH", scale*float64(b.High.At))
	}
	c.Y.High = max(c.Y.High, scale*float64(b.Table.Rim)*1.1)
	return c
}

func (s *drawing) stock(i int) *chart.Chart {
	c, r := s.over(s.site.Units.VolumeUnit()), &s.site.Reservoirs[i]
	c.Line("", scaled(at(s.recorder.stock, i).points(), s.site.Units.VolumeIn(1)), chart.Blue)
	c.Above("fill mark", s.site.Units.VolumeIn(r.Usable))
	c.Below("kept", s.site.Units.VolumeIn(r.Keep))
	c.Y.High = max(c.Y.High, s.site.Units.VolumeIn(r.Usable)*1.15)
	return c
}

func (s *drawing) pots() *chart.Chart {
	c := s.over("% of capacity")
	for i, b := range s.site.Batches {
		c.Line(s.site.Titles.Batch(b.Name), at(s.recorder.water, i).points(), chart.Several[i%len(chart.Several)])
	}
	c.Below("plants suffer", 100*(1-sheet.Driest))
	c.Y.High = max(c.Y.High, 125)
	return c
}

func at(all []series, i int) series {
	if i < len(all) {
		return all[i]
	}
	return nil
}

// times are fill and fall flood by flood.
func (s *drawing) times(i int) *chart.Chart {
	c, b := s.over("s"), &s.site.Benches[i]
	var fill, fall []chart.Point
	for _, f := range s.report.Ledger {
		if f.Bench != b.Name || f.Started == nil {
			continue
		}
		x, ok := instant(*f.Started)
		if ok && f.FillS != nil {
			fill = append(fill, chart.Point{X: x, Y: *f.FillS})
		}
		if ok && f.FallS != nil {
			fall = append(fall, chart.Point{X: x, Y: *f.FallS})
		}
	}
	c.Dots("fill", fill, chart.Blue, chart.Disc)
	c.Dots("fall", fall, chart.Orange, chart.Triangle)
	sh := s.site.Sheet(i)
	if b.Full != nil {
		c.Above("fill at the latest", 1.5*sh.Fill.Seconds())
		c.Below("fill at the earliest", 0.5*sh.Fill.Seconds())
	}
	c.Y.High = max(c.Y.High, 1.5*sh.Fill.Seconds()) * 1.12
	for _, m := range s.report.Slow {
		if x, ok := instant(m.At); ok && m.Bench == b.Name {
			c.Mark(x)
		}
	}
	return c
}

func instant(stamp string) (float64, bool) {
	at, err := time.Parse(time.RFC3339, stamp)
	return seconds(at), err == nil
}

// trips are a line for each interlock that acted.
func (s *drawing) trips() *chart.Chart {
	c := s.over("")
	var names []string
	var passed, latched []chart.Point
	for _, t := range s.report.Trips {
		x, ok := instant(t.At)
		if !ok {
			continue
		}
		n := slices.Index(names, string(t.Interlock))
		if n < 0 {
			n, names = len(names), append(names, string(t.Interlock))
		}
		p := chart.Point{X: x, Y: float64(n)}
		if t.Latched {
			latched = append(latched, p)
		} else {
			passed = append(passed, p)
		}
	}
	c.Dots("passed", passed, chart.Orange, chart.Ring)
	c.Dots("latched", latched, chart.Rust, chart.Disc)
	for n, name := range names {
		c.Y.Ticks = append(c.Y.Ticks, chart.Tick{At: float64(n), Label: name})
	}
	c.Y.Low, c.Y.High = -0.7, float64(len(names))+0.3
	return c
}
