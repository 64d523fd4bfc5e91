// Command benchtide floods and drains an ebb-and-flood bench on time, proves
// that the water came and went, and stops the pump before anything spills.
//
// The commands are in packages by what they need: daemon keeps a bench, client
// asks the daemon, bench is for a person beside the bench, and offline answers
// from the site's file. The exit code is 0 when all is well, 1 when the answer is
// no, 2 when the command itself was wrong.
package main

import (
	"context"
	"io"
	"os"
	_ "time/tzdata" // small boards have no zone data of their own

	"benchtide/cmd/benchtide/bench"
	"benchtide/cmd/benchtide/cli"
	"benchtide/cmd/benchtide/client"
	"benchtide/cmd/benchtide/daemon"
	"benchtide/cmd/benchtide/offline"
)

func main() { os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// commands are grouped by when a person wants them.
type commands struct {
	Demo       daemon.Demo      `cmd:"" group:"try" help:"Run the built-in example on a simulated bench, faster than real time."`
	Check      offline.Check    `cmd:"" group:"try" help:"Check a site's file and print what its benches come to."`
	Calendar   offline.Calendar `cmd:"" group:"try" help:"List the floods to come, or what the plants need."`
	Rehearse   offline.Rehearse `cmd:"" group:"try" help:"Run a schedule, or a scenario of faults, on the simulated bench in virtual time."`
	Commission bench.Commission `cmd:"" group:"bench" help:"Check wiring and switches with a person beside the bench, and time its floods."`
	Run        daemon.Run       `cmd:"" group:"bench" help:"Run a site: the daemon."`
	Off        bench.Off        `cmd:"" group:"bench" help:"Put every output off."`
	Version    versionCommand   `cmd:"" group:"bench" help:"Print which program this is."`

	Status   client.Status   `cmd:"" group:"day" help:"Tell how the benches stand."`
	Flood    client.Flood    `cmd:"" group:"day" help:"Flood a bench once."`
	Stop     client.Stop     `cmd:"" group:"day" help:"End the flood under way."`
	Skip     client.Skip     `cmd:"" group:"day" help:"Leave out the next planned flood."`
	UndoSkip client.UndoSkip `cmd:"" name:"undo-skip" group:"day" help:"Take back a skip whose flood is still to come."`
	Pause    client.Pause    `cmd:"" group:"day" help:"Keep automatic floods off for a time."`
	Resume   client.Resume   `cmd:"" group:"day" help:"End a pause."`
	HandsIn  client.HandsIn  `cmd:"" group:"day" help:"Keep everything off while a person works in the benches."`
	Reset    client.Reset    `cmd:"" group:"day" help:"Release a latched trip."`
	Drop     client.Drop     `cmd:"" group:"day" help:"Forget a bench that left the file."`
	Away     offline.Away    `cmd:"" group:"day" help:"Check whether a site can be left alone until a date."`

	Alarms      client.Alarms      `cmd:"" group:"told" help:"List the alarms that are not over."`
	Acknowledge client.Acknowledge `cmd:"" group:"told" help:"Say that somebody knows of an alarm."`
	Shelve      client.Shelve      `cmd:"" group:"told" help:"Keep an alarm silent for a time."`
	Service     client.Service     `cmd:"" group:"told" help:"Take an alarm out of service, or put it back."`
	TestMessage client.TestMessage `cmd:"" group:"told" help:"Send a message that wants an answer."`
	Confirm     client.Confirm     `cmd:"" group:"told" help:"Answer a test message."`

	Mix      offline.Mix     `cmd:"" group:"plants" help:"Work out nutrient solution."`
	Diary    client.Diary    `cmd:"" group:"plants" help:"Write down, or list, what the switches cannot see."`
	TookOut  client.TookOut  `cmd:"" group:"plants" help:"Say that you took out the water that a reservoir is told to lose."`
	ToppedUp client.ToppedUp `cmd:"" group:"plants" help:"Say whether you poured in the water that came and that nobody wrote down."`
	Outlook  client.Outlook  `cmd:"" group:"plants" help:"Tell what the plants will need, how long the water lasts, and what is proposed."`
	Advance  client.Advance  `cmd:"" group:"plants" help:"Have a batch enter a stage of its plan."`
	Close    client.Close    `cmd:"" group:"plants" help:"Close a batch: nothing floods for it any more."`
	Empty    client.Empty    `cmd:"" group:"plants" help:"Mark a table empty: close every batch on it."`
	Sanitise client.Sanitise `cmd:"" group:"plants" help:"Keep planned floods off while sanitiser is in the water, until rinsed is confirmed."`
	Rinsed   client.Rinsed   `cmd:"" group:"plants" help:"Confirm that bench and reservoir are rinsed: the end of sanitising."`

	History client.History `cmd:"" group:"record" help:"List the floods of the last days."`
	Export  client.Export  `cmd:"" group:"record" help:"Print the record for other programs."`
	Backup  client.Backup  `cmd:"" group:"record" help:"Copy the whole record while the daemon runs."`
}

// run is the whole program: it carries out one command line and returns the
// exit code.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	return cli.Run(ctx, &commands{}, args, stdin, stdout, stderr)
}
