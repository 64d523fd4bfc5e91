package cli

import (
	"runtime/debug"

	"benchtide/controller/metrics"
)

// Build says which program this is, as the Go tool stamped it.
func Build() metrics.Build {
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
