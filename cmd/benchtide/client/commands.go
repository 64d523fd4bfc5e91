package client

import (
	"slices"

	"benchtide/cmd/benchtide/cli"
)

// Commands are the rows of this package in the table of commands.
func Commands() []cli.Command {
	doing := make([]cli.Command, len(acts))
	for i := range acts {
		doing[i] = acts[i].command()
	}
	return slices.Concat([]cli.Command{
		{Name: "status", Group: "day", Help: "Tell how the benches stand.", Do: Status{}},
		{Name: "alarms", Group: "told", Help: "List the alarms that are not over.", Do: Alarms{}},
		{Name: "diary", Group: "plants", Help: "Write down, or list, what the switches cannot see.", Do: newDiary()},
	}, doing, []cli.Command{
		{Name: "outlook", Group: "plants", Help: "Tell what the plants will need, how long the water lasts, and what is proposed.", Do: Outlook{}},
		{Name: "history", Group: "record", Help: "List the floods of the last days.", Do: History{}},
		{Name: "export", Group: "record", Help: "Print the record for other programs.", Do: Export{}},
		{Name: "backup", Group: "record", Help: "Copy the whole record while the daemon runs.", Do: Backup{}},
	})
}
