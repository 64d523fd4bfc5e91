// Package offline has the commands that answer from the site's file alone, with
// no bench at hand: what it comes to, which floods it plans, how a season of it
// goes on the simulated bench, and how solution is mixed. Those that may reckon
// with a record ask a running daemon for it.
package offline

import (
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/schedule"
)

type Check struct {
	cli.SiteFile
	JSON bool   `help:"Print one JSON object."`
	HTML string `placeholder:"FILE" help:"Write the bench sheets there too, as pages to print."`
}

func (Check) Help() string {
	return `Every error and warning with its line, then by bench what the numbers come to and
what the guard holds the bench to. Exit code 1 when there is an error.

Examples:

    benchtide check -c bench.yaml
    benchtide check -c bench.yaml --html sheet.html`
}

func (c Check) Run(s *cli.Session) error {
	name, data, err := c.Read(s)
	if err != nil {
		return err
	}
	site, problems := config.ParseOn(name, data, schedule.CivilIn(time.Now(), time.Local).Date())
	report := config.NewReport(name, site, problems)
	if c.HTML != "" {
		if err := cli.WriteFile(c.HTML, report.WriteHTML); err != nil {
			return err
		}
		s.Notice("The bench sheets are in %s.", c.HTML)
	}
	if c.JSON {
		err = s.PrintJSON(report)
	} else {
		err = report.WriteText(s.Out)
	}
	if err == nil && !report.OK() {
		return cli.ErrNo
	}
	return err
}
