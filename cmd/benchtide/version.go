package main

import (
	"fmt"
)

type versionCommand struct {
	JSON bool `help:"Print one JSON object."`
}

func (versionCommand) Help() string {
	return `Example:

    benchtide version --json`
}

func (c versionCommand) Run(s *session) error {
	b := build()
	if c.JSON {
		return s.printJSON(struct {
			Version  string `json:"version"`
			Revision string `json:"revision"`
			Go       string `json:"go"`
		}{b.Version, b.Revision, b.GoVersion})
	}
	_, err := fmt.Fprintf(s.out, "benchtide %s, revision %s, %s\n", b.Version, b.Revision, b.GoVersion)
	return err
}
