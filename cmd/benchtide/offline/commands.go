package offline

import "benchtide/cmd/benchtide/cli"

// Commands are the rows of this package in the table of commands.
func Commands() []cli.Command {
	return []cli.Command{
		{Name: "check", Group: "try", Help: "Check a site's file and print what its benches come to.", Do: Check{}},
		{Name: "explain", Group: "try", Help: "Tell what belongs at a key of the file.", Do: Explain{}},
		{Name: "calendar", Group: "try", Help: "List the floods to come, or what the plants need.", Do: Calendar{}},
		{Name: "rehearse", Group: "try", Help: "Run a schedule, or a scenario of faults, on the simulated bench in virtual time.", Do: Rehearse{}},
		{Name: "mix", Group: "plants", Help: "Work out nutrient solution.", Do: newMix()},
		{Name: "away", Group: "day", Help: "Check whether a site can be left alone until a date.", Do: Away{}},
	}
}
