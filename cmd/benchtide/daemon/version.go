package daemon

import (
	"fmt"
	"path/filepath"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/config"
)

// version is one version of the site's file.
type version struct {
	name string
	text []byte
	site *config.Site
}

// notInForce tells of a version of the file that changes nothing.
func notInForce(err error) controller.Message {
	return controller.Message{Urgency: controller.Today, Bench: -1, Cause: "settings",
		Text: fmt.Sprintf("The changed file is not in force: %v. The bench goes on as before. Put the file right and have it read again.", err)}
}

func newVersion(s *cli.Session, name string, text []byte) (version, error) {
	site, problems := cli.ParseSite(name, text)
	for _, w := range problems.Warnings() {
		s.Notice("%v", w)
	}
	return version{name, text, site}, problems.Err()
}

// besides is the directory of the site's file, where its relative references
// begin.
func besides(name string) string {
	if name == "standard input" || name == cli.ExampleName {
		return "."
	}
	return filepath.Dir(name)
}
