package bench

import "benchtide/cmd/benchtide/cli"

// Commands are the rows of this package in the table of commands.
func Commands() []cli.Command {
	return []cli.Command{
		{Name: "commission", Group: "bench", Help: "Check wiring and switches with a person beside the bench, and time its floods.", Do: Commission{}},
		{Name: "off", Group: "bench", Help: "Put every output off.", Do: Off{}},
		{Name: "lines", Group: "bench", Help: "List the lines of this machine, and what the file has on them.", Do: Lines{}},
	}
}
