package daemon

import "benchtide/cmd/benchtide/cli"

// Commands are the rows of this package in the table of commands.
func Commands() []cli.Command {
	return []cli.Command{
		{Name: "demo", Group: "try", Help: "Run the built-in example on a simulated bench, faster than real time.", Do: Demo{}},
		{Name: "run", Group: "bench", Help: "Run a site: the daemon.", Do: Run{}},
	}
}
