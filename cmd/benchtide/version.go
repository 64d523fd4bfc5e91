package main

import (
	"fmt"
	"runtime/debug"

	"benchtide/controller/metrics"
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

// build says which program this is, as the Go tool stamped it.
func build() metrics.Build {
	b := metrics.Build{Version: "unknown", Revision: "unknown", GoVersion: "unknown"}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	b.Version, b.GoVersion = info.Main.Version, info.GoVersion
	changed := ""
	for _, set := range info.Settings {
		switch {
		case set.Key == "vcs.revision":
			b.Revision = set.Value
		case set.Key == "vcs.modified" && set.Value == "true":
			changed = "+changes"
		}
	}
	b.Revision += changed
	return b
}
