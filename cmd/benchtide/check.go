package main

import (
	"time"

	"benchtide/controller/config"
	"benchtide/schedule"
)

type checkCommand struct {
	siteFile
	JSON bool   `help:"Print one JSON object."`
	HTML string `placeholder:"FILE" help:"Write the bench sheets there too, as pages to print."`
}

func (checkCommand) Help() string {
	return `Every error and warning with its line, then by bench what the numbers come to and
what the guard holds the bench to. Exit code 1 when there is an error.

Examples:

    benchtide check -c bench.yaml
    benchtide check -c bench.yaml --html sheet.html`
}

func (c checkCommand) Run(s *session) error {
	name, data, err := c.read(s)
	if err != nil {
		return err
	}
	site, problems := config.ParseOn(name, data, schedule.CivilIn(time.Now(), time.Local).Date())
	report := config.NewReport(name, site, problems)
	if c.HTML != "" {
		if err := writeFile(c.HTML, report.WriteHTML); err != nil {
			return err
		}
		s.notice("The bench sheets are in %s.", c.HTML)
	}
	if c.JSON {
		err = s.printJSON(report)
	} else {
		err = report.WriteText(s.out)
	}
	if err == nil && !report.OK() {
		return errNo
	}
	return err
}
