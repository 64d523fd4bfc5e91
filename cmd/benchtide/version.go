package main

import (
	"fmt"

	"benchtide/cmd/benchtide/cli"
)

// version prints which program this is.
type version struct {
	JSON bool `help:"Print one JSON object."`
}

func (version) Help() string {
	return `Example:

    benchtide version --json`
}

func (c version) Run(s *cli.Session) error {
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
