// Package offline has the commands that answer from the site's file alone, with
// no bench at hand: what it comes to, which floods it plans, how a season of it
// goes on the simulated bench, and how solution is mixed. Those that may reckon
// with a record ask a running daemon for it.
package offline

import (
	"fmt"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/schedule"
)

// Check checks a site's file.
type Check struct {
	cli.SiteFile
	JSON bool   `help:"Print one JSON object."`
	HTML string `placeholder:"FILE" help:"Write the bench sheets there too, as pages to print."`
}

// Help is what its --help says beside the flags, with an example.
func (Check) Help() string {
	return `Every error and warning with its line, then by bench what the numbers come to and
what the guard holds the bench to. At the end, as notes, keys that are newer than
the file and would serve it. Exit code 1 when there is an error.

Examples:

    benchtide check -c bench.yaml
    benchtide check -c bench.yaml --html sheet.html`
}

// aheadDays is for how many days beyond the first of its last stage a plan is looked
// at: by then most batches have left the bench (judgement, no source).
const aheadDays = 60

// leaves is when batch i has left its bench, if nobody has said.
func leaves(site *config.Site, i int) schedule.Date {
	stages := site.Plans[site.Batches[i].Plan].Stages
	return site.Batches[i].Transplanted.AddDays(stages[len(stages)-1].FromDay + aheadDays)
}

// illPlaced warns of batches that stand where it is too cold or too hot for them.
func illPlaced(site *config.Site) (found config.Problems, err error) {
	g, _, err := outlook.Site(site)
	if err != nil {
		return nil, err
	}
	for i, b := range site.Batches {
		for _, text := range g.Comfort(i, b.Transplanted, leaves(site, i)) {
			found = append(found, site.Doubt(i, texts.Listed(b.Name, site.Titles.Batches)+": "+text))
		}
	}
	return found, nil
}

// dryPlans warns of plans that leave pots under their limit on hot days.
func dryPlans(site *config.Site) (found config.Problems, err error) {
	for i, b := range site.Batches {
		words, err := dryPots(site, i, b.Transplanted, leaves(site, i))
		if err != nil {
			return nil, err
		}
		if words != "" {
			found = append(found, site.Doubt(i, words+": flood more often then; calendar --plan proposes a stage"))
		}
	}
	return found, nil
}

// dryPots says from which of some days on batch i gets too dry; nothing where it does
// not.
func dryPots(site *config.Site, i int, from, to schedule.Date) (string, error) {
	g, _, err := outlook.Site(site)
	if err != nil {
		return "", err
	}
	dry, is, err := g.FirstDry(i, from, to, site.Zone)
	if err != nil || !is {
		return "", err
	}
	return fmt.Sprintf("from %s on, on hot days, the pots of %s last %s after the flood of %s, and the next one comes %s after it",
		dry.After.Slot.Local.Date(), texts.Listed(site.Batches[i].Name, site.Titles.Batches), quantity.Duration(dry.Lasts.Round(time.Hour/2)), dry.After.Slot.Local.TimeOfDay(), quantity.Duration(dry.Next)), nil
}

// Run prints what its numbers come to. It is cli.ErrNo where the file has an error.
func (c Check) Run(s *cli.Session) error {
	name, data, err := c.Read(s)
	if err != nil {
		return err
	}
	site, problems := config.ParseOn(name, data, schedule.CivilIn(time.Now(), time.Local).Date())
	if site != nil {
		for _, doubts := range []func(*config.Site) (config.Problems, error){illPlaced, dryPlans} {
			found, err := doubts(site)
			if err != nil {
				return err
			}
			problems = append(problems, found...)
		}
	}
	report := config.NewReport(name, site, problems)
	if c.HTML != "" {
		if err := cli.WriteFile(c.HTML, report.WriteHTML); err != nil {
			return err
		}
		s.Notice("The bench sheets are in %s.", c.HTML)
	}
	if err = s.Print(report, c.JSON); err == nil && !report.OK() {
		return cli.ErrNo
	}
	return err
}
