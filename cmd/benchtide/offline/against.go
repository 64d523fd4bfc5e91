package offline

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/chart"
	"benchtide/controller/config"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/quantity"
	"benchtide/controller/rehearse"
	"benchtide/controller/texts"
	"benchtide/hw/sim"
	"benchtide/schedule"
)

// worlds is in how many hidden natures two plans are lived beside each other.
const worlds = 5

// lived are two files beside each other.
type lived struct {
	From     string      `json:"from"`
	Days     int         `json:"days"`
	Nature   string      `json:"nature"`
	Natures  int         `json:"natures"`
	Files    [2]string   `json:"files"`
	Forecast [2]*float64 `json:"forecast_days_behind"` // of the worst batch, before anything is lived; null where none stands
	Rows     []livedRow  `json:"rows"`
}

// livedRow is one figure of both, over the natures.
type livedRow struct {
	What string     `json:"what"`
	Unit string     `json:"unit"`
	A    [3]float64 `json:"a"` // least, middle, most
	B    [3]float64 `json:"b"`
	Less [3]float64 `json:"b_less_a"` // nature by nature
}

// against lives through the days with both files in a few natures.
func (c Rehearse) against(ctx context.Context, s *cli.Session, a *config.Site) error {
	data, err := cli.ReadFile(c.Against, "the other file")
	if err != nil {
		return err
	}
	b, problems := cli.ParseSite(c.Against, data)
	if err := problems.Err(); err != nil {
		return err
	}
	scenario, err := c.scenario(s, a)
	if err != nil {
		return err
	}
	if scenario.Nature, err = c.nature(); err == nil && scenario.Nature == nil {
		scenario.Nature, err = sim.NatureNamed("wild")
	}
	if err != nil {
		return err
	}
	l := &lived{From: scenario.From.String(), Days: scenario.Days, Nature: scenario.Nature.Name, Natures: worlds, Files: [2]string{cmp.Or(c.Config, cli.ExampleName), c.Against}}
	if err := l.live(ctx, [2]*config.Site{a, b}, scenario); err != nil {
		return err
	}
	if err = s.Print(l, c.JSON); err != nil || c.Report == "" {
		return err
	}
	return c.drawAgainst(s, l)
}

// live asks both files what they expect, and then lives through the natures.
func (l *lived) live(ctx context.Context, sites [2]*config.Site, scenario rehearse.Scenario) error {
	var figures [2][][]figure
	for f, site := range sites {
		days, stands, err := expects(site, scenario.From, scenario.Days)
		if err != nil {
			return err
		}
		if stands {
			l.Forecast[f] = quantity.Finite(days)
		}
		for n := range uint64(worlds) {
			one := scenario
			one.Seed += n
			report, err := rehearse.Run(ctx, site, one, rehearse.Options{Crops: true, NoDrift: true, NoRows: true})
			if err != nil {
				return err
			}
			figures[f] = append(figures[f], figuresOf(site, report))
		}
	}
	l.compare(figures)
	return nil
}

// expects is by how many days the file itself expects its worst batch to be behind at
// the end; false where none stands.
func expects(site *config.Site, from schedule.Date, days int) (worst float64, stands bool, err error) {
	g, _, err := outlook.Site(site)
	if err != nil {
		return 0, false, err
	}
	for i, b := range site.Batches {
		begins := max(from, b.Transplanted)
		left := days - int(begins-from)
		if left <= 0 {
			continue
		}
		p, err := g.Prospect(i, begins, left)
		if err != nil {
			return 0, false, err
		}
		worst, stands = max(worst, p.Days()), true
	}
	return worst, stands, nil
}

// figure is one of a rehearsal.
type figure struct {
	what, unit string
	value      float64
}

// behind ends the name of the row of a batch that all its causes follow.
const behind = ": behind"

// figuresOf are those that are compared; batches in the order of the file.
func figuresOf(site *config.Site, r *rehearse.Report) []figure {
	all := []figure{{"proven floods", "", float64(r.Floods[controller.Proven])}, {"topped up", "L", r.ToppedUpL}}
	for _, b := range site.Batches {
		end, stood := r.Crops[b.Name]
		if !stood {
			continue
		}
		name := texts.Listed(b.Name, site.Titles.Batches)
		all = append(all, figure{name + ": driest pots", "%", 100 * r.LowestWaterFraction[b.Name]}, figure{name + ": lost", "%", 100 * end.Lost()}, figure{name + behind, "d", end.Delay()})
		for c, cause := range rehearse.CropCauses {
			all = append(all, figure{name + behind + ", " + cause, "d", end[c].Delay})
		}
	}
	return all
}

// compare sets beside each other what both files have, nature by nature.
func (l *lived) compare(figures [2][][]figure) {
	for i, f := range figures[0][0] {
		j := slices.IndexFunc(figures[1][0], func(g figure) bool { return g.what == f.what })
		if j < 0 {
			continue
		}
		var a, b, less []float64
		for n := range worlds {
			x, y := figures[0][n][i].value, figures[1][n][j].value
			a, b, less = append(a, x), append(b, y), append(less, y-x)
		}
		l.Rows = append(l.Rows, livedRow{f.what, f.unit, spread(a), spread(b), spread(less)})
	}
}

// spread is the least, the middle and the most.
func spread(all []float64) [3]float64 {
	slices.Sort(all)
	return [3]float64{quantity.Thousandth(all[0]), quantity.Thousandth(all[len(all)/2]), quantity.Thousandth(all[len(all)-1])}
}

// WriteText writes what differs first.
func (l *lived) WriteText(w io.Writer) error {
	t := texts.NewTable(w)
	fmt.Fprintf(w, "A is %s, B is %s; %d days from %s, in %d %s natures; middle, and least to most\n", l.Files[0], l.Files[1], l.Days, l.From, l.Natures, l.Nature)
	if a, b := l.Forecast[0], l.Forecast[1]; a != nil && b != nil {
		fmt.Fprintf(w, "Before anything is lived the program reckons, to order plans and not for dates: the worst batch %.1f days behind with A, %.1f with B.\n", *a, *b)
	}
	rows := slices.Clone(l.Rows)
	slices.SortStableFunc(rows, func(x, y livedRow) int { return x.same() - y.same() })
	heads := [2]string{"\nWhat differs\tB less A\tA\tB\n", "\nThe same in both\t\tA\tB\n"}
	for i, r := range rows {
		if i == 0 || rows[i-1].same() != r.same() {
			fmt.Fprint(t, heads[r.same()])
		}
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\n", r.what(), spanText(r.Less, "%+.1f"), spanText(r.A, "%.1f"), spanText(r.B, "%.1f"))
	}
	return t.Flush()
}

// same is 1 where no nature tells the two apart.
func (r livedRow) same() int {
	if max(-r.Less[0], r.Less[2]) < 0.05 { // as it is printed
		return 1
	}
	return 0
}

func (r livedRow) what() string {
	if r.Unit == "" {
		return r.What
	}
	return r.What + ", " + r.Unit
}

// spanText writes tenths, the middle first: none that rounds to nothing is below it.
func spanText(s [3]float64, format string) string {
	for i := range s {
		s[i] = math.Round(10*s[i])/10 + 0
	}
	return fmt.Sprintf(format+" ("+format+" to "+format+")", s[1], s[0], s[2])
}

// picture draws what holds each batch back, a chart for each.
func (l *lived) picture() string {
	var charts []*chart.Chart
	for i, rows := 0, l.Rows; i < len(rows); i++ {
		if batch, is := strings.CutSuffix(rows[i].What, behind); is {
			charts = append(charts, chartOf(batch, rows[i:]))
		}
	}
	return chart.Column(charts...)
}

// chartOf is the chart of a batch, of which the first row is that of all causes.
func chartOf(batch string, rows []livedRow) *chart.Chart {
	c := &chart.Chart{Title: batch + ": days behind; least, middle and most of the natures", Unit: "days"}
	var dots [2][]chart.Point
	for i, r := range rows {
		cause, is := strings.CutPrefix(r.What, batch+behind)
		if !is {
			break
		}
		c.X.Low, c.X.High = -0.5, float64(i)+0.5
		c.X.Ticks = append(c.X.Ticks, chart.Tick{At: float64(i), Label: cmp.Or(strings.TrimPrefix(cause, ", "), "in all")})
		for f, s := range [2][3]float64{r.A, r.B} {
			at := float64(i) + 0.2*float64(f) - 0.1
			c.Line("", []chart.Point{{X: at, Y: s[0]}, {X: at, Y: s[2]}}, chart.Several[f])
			dots[f] = append(dots[f], chart.Point{X: at, Y: s[1]})
		}
	}
	c.Dots("A", dots[0], chart.Several[0], chart.Disc)
	c.Dots("B", dots[1], chart.Several[1], chart.Disc)
	return c
}

// drawAgainst writes the picture into the directory that was asked for.
func (c Rehearse) drawAgainst(s *cli.Session, l *lived) error {
	if err := os.MkdirAll(c.Report, 0o755); err != nil {
		return cli.Usagef("make the directory of the report: %w; name one that can be written", err)
	}
	path := filepath.Join(c.Report, "against.svg")
	err := cli.WriteFile(path, func(w io.Writer) error {
		_, err := io.WriteString(w, l.picture())
		return err
	})
	if err == nil {
		s.Notice("The picture is in %s.", path)
	}
	return err
}
