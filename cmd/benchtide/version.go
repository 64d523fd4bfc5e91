package main

import (
	"fmt"

	"benchtide/cmd/benchtide/cli"
)

type versionCommand struct {
	JSON bool `help:"Print one JSON object."`
}

func (versionCommand) Help() string {
	return `Example:

    benchtide version --json`
}

func (c versionCommand) Run(s *cli.Session) error {
	b := cli.Build()
	if c.JSON {
		return s.PrintJSON(struct {
			Version  string `json:"version"`
			Revision string `json:"revision"`
			Go       string `json:"go"`
		}{b.Version, b.Revision, b.GoVersion})
	}
	_, err := fmt.Fprintf(s.Out, "benchtide %s, revision %s, %s\n", b.Version, b.Revision, b.GoVersion)
	return err
}
