package main

import "benchtide/controller/config"

type checkCommand struct {
	siteFile
	JSON bool `help:"Print one JSON object."`
}

func (checkCommand) Help() string {
	return `Tells every error and warning with its line, then by bench what the numbers
come to and what the guard holds the bench to. Exit code 1 when there is an error.

Example:

    benchtide check -c bench.yaml`
}

func (c checkCommand) Run(s *session) error {
	name, data, err := c.read(s)
	if err != nil {
		return err
	}
	site, problems := config.Parse(name, data)
	report := config.NewReport(name, site, problems)
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
