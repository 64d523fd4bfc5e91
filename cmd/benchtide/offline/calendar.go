package offline

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/schedule"
)

// Calendar lists the floods to come, or what the plants need.
type Calendar struct {
	cli.SiteFile
	ask.Daemon
	From   cli.Date `placeholder:"DATE" help:"First day; today unless given."`
	Days   int      `default:"7" placeholder:"N" help:"How many days; ${default} unless given."`
	Format string   `enum:"text,ics,json" default:"text" help:"text, ics for a calendar program, or json."`
	JSON   bool     `help:"Print one JSON object; the same as --format json."`
	Plan   bool     `help:"Show instead what the plants of each batch need beside what is planned."`
	Live   bool     `help:"With --plan: reckon with what the running daemon has on record, and with what it knows of stages and closed batches."`
	SVG    string   `placeholder:"FILE" help:"With --plan: draw the water in the pots there, too."`
}

// Help is what its --help says beside the flags, with an example.
func (Calendar) Help() string {
	return `Each flood with its batch, hold and strength, what a shared bench withholds
from a batch, and from which day on pots would get too dry on hot days. With --plan
it draws the water in the pots on mild, normal and hottest days, says where the
floods are too few or too many, and proposes stages; exit code 1 when pots would
fall below their limit.

Examples:

    benchtide calendar -c bench.yaml --from 2026-03-02 --days 14
    benchtide calendar -c bench.yaml --days 60 --format ics > floods.ics
    benchtide calendar -c bench.yaml --plan --days 30 --svg water.svg
    benchtide calendar -c bench.yaml --plan --live`
}

// Validate refuses a span that is none, and two formats at once.
func (c Calendar) Validate() error {
	if c.JSON && c.Format == "ics" {
		return fmt.Errorf("--json and --format ics: give one of the two")
	}
	if c.Plan && c.Format == "ics" {
		return fmt.Errorf("--plan and --format ics: give one of the two")
	}
	if c.Live && !c.Plan {
		return fmt.Errorf("--live reckons with a record for --plan: give --plan too")
	}
	if c.SVG != "" && !c.Plan {
		return fmt.Errorf("--svg draws what --plan shows: give --plan too")
	}
	return checkDays(c.Days)
}

// Run prints it. It is cli.ErrNo where pots would fall below their limit.
func (c Calendar) Run(ctx context.Context, s *cli.Session) error {
	site, _, err := c.Load(s)
	if err != nil {
		return err
	}
	if c.Plan {
		return c.runPlan(ctx, s, site)
	}
	from := c.From.Or(today(site))
	if c.JSON || c.Format == "json" {
		planned, err := live.CalendarOf(site, from, c.Days)
		if err != nil {
			return err
		}
		return s.PrintJSON(planned)
	}
	p, err := planOf(site, from, c.Days)
	if err != nil {
		return err
	}
	if c.Format == "ics" {
		return p.writeICS(s.Out, time.Now())
	}
	return p.writeText(s.Out)
}

func (c Calendar) runPlan(ctx context.Context, s *cli.Session, site *config.Site) error {
	from := c.From.Or(today(site))
	var r *grow.Record
	if c.Live {
		var err error
		if r, err = readRecord(ctx, c.Client(), site); err != nil {
			return err
		}
		from = c.From.Or(schedule.CivilIn(r.Now, site.Zone).Date())
	}
	worked, err := outlook.Of(site, from, c.Days, r)
	if err != nil {
		return err
	}
	o := outlookPaper{worked}
	if c.SVG != "" {
		if err := cli.WriteFile(c.SVG, o.writeSVG); err != nil {
			return err
		}
		s.Notice("The picture is in %s.", c.SVG)
	}
	if c.JSON || c.Format == "json" {
		err = s.PrintJSON(o.object())
	} else {
		err = o.writeText(s.Out)
	}
	if err == nil && !o.Fits() {
		return cli.ErrNo
	}
	return err
}

// plan is the floods of a site over some days.
type plan struct {
	site      *config.Site
	from      schedule.Date
	days      int
	floods    []schedule.Planned
	conflicts []schedule.Conflict
	best      []string // of what can be done about each
	dry       []string // of which batches pots get too dry on hot days, and from when on
}

// conflictOf is a conflict in words, with where and when it is.
func conflictOf(site *config.Site, c *schedule.Conflict) string {
	return fmt.Sprintf("conflict on %s from %s to %s: %s", texts.Listed(site.Benches[c.Bench].Name, site.Titles.Benches), c.From, c.To, c.Detail)
}

func planOf(site *config.Site, from schedule.Date, days int) (*plan, error) {
	c, err := site.Calendar()
	if err != nil {
		return nil, err
	}
	end := from.AddDays(days)
	withheld, err := site.Conflicts(from, end.AddDays(-1))
	if err != nil {
		return nil, err
	}
	g, _, err := outlook.Site(site)
	if err != nil {
		return nil, err
	}
	p := &plan{site: site, from: from, days: days, floods: c.Between(from.At(0), end.At(0)), conflicts: withheld}
	for i := range withheld {
		best, _, _ := strings.Cut(g.Choices(withheld[i]), "; or ")
		p.best = append(p.best, best)
	}
	for i := range site.Batches {
		words, err := dryPots(site, i, from, end.AddDays(-1))
		if err != nil {
			return nil, err
		}
		if words != "" {
			p.dry = append(p.dry, words)
		}
	}
	return p, nil
}

func (p *plan) bench(f *schedule.Planned) string { return p.site.Benches[f.Slot.Bench].Name }

// reason says which stage of which batch set the flood's time.
func (p *plan) reason(f *schedule.Planned) string {
	b := p.site.Batches[f.Batch]
	return fmt.Sprintf("%s, from day %d", texts.Listed(b.Name, p.site.Titles.Batches), p.site.Plans[b.Plan].Stages[f.Stage].FromDay)
}

func strength(f *schedule.Planned) string {
	return quantity.In(quantity.Fraction(f.Strength), quantity.Percent)
}

// writeText lists the floods day by day.
func (p *plan) writeText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s), %s and %d days\n", p.site.Name, p.site.Zone, p.from, p.days)
	t := texts.NewTable(&b)
	day := schedule.Date(-1)
	for i := range p.floods {
		f := &p.floods[i]
		if d := f.Slot.Local.Date(); d != day {
			day = d
			fmt.Fprintf(t, "%s %s\n", d.Weekday().String()[:3], d)
		}
		fmt.Fprintf(t, "  %s\t%s\thold %s\tstrength %s\t%s%s\n", f.Slot.Local.TimeOfDay(), texts.Listed(p.bench(f), p.site.Titles.Benches),
			quantity.Duration(f.Hold), strength(f), p.reason(f), p.moved(f))
	}
	if len(p.floods) == 0 {
		fmt.Fprintln(t, "No flood is planned.")
	}
	for i := range p.conflicts {
		fmt.Fprintf(t, "%s. Best: %s.\n", conflictOf(p.site, &p.conflicts[i]), p.best[i])
	}
	for _, words := range p.dry {
		fmt.Fprintln(t, "too dry: "+words)
	}
	_ = t.Flush() // into memory
	_, err := io.WriteString(w, b.String())
	return err
}

// moved says at what time a flood runs whose own time the clock skips.
func (p *plan) moved(f *schedule.Planned) string {
	shown := schedule.CivilIn(f.Due, p.site.Zone)
	if shown == f.Slot.Local {
		return ""
	}
	return fmt.Sprintf(" (the clock skips this time: runs at %s)", shown.TimeOfDay())
}
