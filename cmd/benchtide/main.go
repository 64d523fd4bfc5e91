// Command benchtide floods and drains an ebb-and-flood bench on time, proves
// that the water came and went, and stops the pump before anything spills.
//
// Each subcommand has a file of its own. Those that keep a bench, run and
// demo, put a board and its clock together and hand them to serve; the others
// ask a question of the site's file and print the answer, for people or with
// --json for programs. The exit code is 0 when all is well, 1 when the answer
// is no, 2 when the command itself was wrong.
package main

import (
	"context"
	"io"
	"os"
	_ "time/tzdata" // small boards have no zone data of their own
)

func main() { os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// commands are grouped by when a person wants them.
type commands struct {
	Demo       demoCommand       `cmd:"" group:"try" help:"Run the built-in example on a simulated bench, faster than real time."`
	Check      checkCommand      `cmd:"" group:"try" help:"Check a site's file and print what its benches come to."`
	Calendar   calendarCommand   `cmd:"" group:"try" help:"List the floods to come, or what the plants need."`
	Rehearse   rehearseCommand   `cmd:"" group:"try" help:"Run a schedule, or a scenario of faults, on the simulated bench in virtual time."`
	Commission commissionCommand `cmd:"" group:"bench" help:"Check wiring and switches with a person beside the bench, and time its floods."`
	Run        runCommand        `cmd:"" group:"bench" help:"Run a site: the daemon."`
	Off        offCommand        `cmd:"" group:"bench" help:"Put every output off."`
	Version    versionCommand    `cmd:"" group:"bench" help:"Print which program this is."`

	Status   statusCommand   `cmd:"" group:"day" help:"Tell how the benches stand."`
	Flood    floodCommand    `cmd:"" group:"day" help:"Flood a bench once."`
	Stop     stopCommand     `cmd:"" group:"day" help:"End the flood under way."`
	Skip     skipCommand     `cmd:"" group:"day" help:"Leave out the next planned flood."`
	UndoSkip undoSkipCommand `cmd:"" name:"undo-skip" group:"day" help:"Take back a skip whose flood is still to come."`
	Pause    pauseCommand    `cmd:"" group:"day" help:"Keep automatic floods off for a time."`
	Resume   resumeCommand   `cmd:"" group:"day" help:"End a pause."`
	HandsIn  handsInCommand  `cmd:"" group:"day" help:"Keep everything off while a person works in the benches."`
	Reset    resetCommand    `cmd:"" group:"day" help:"Release a latched trip."`
	Drop     dropCommand     `cmd:"" group:"day" help:"Forget a bench that left the file."`
	Away     awayCommand     `cmd:"" group:"day" help:"Check whether a site can be left alone until a date."`

	Alarms      alarmsCommand      `cmd:"" group:"told" help:"List the alarms that are not over."`
	Acknowledge acknowledgeCommand `cmd:"" group:"told" help:"Say that somebody knows of an alarm."`
	Shelve      shelveCommand      `cmd:"" group:"told" help:"Keep an alarm silent for a time."`
	Service     serviceCommand     `cmd:"" group:"told" help:"Take an alarm out of service, or put it back."`
	TestMessage testMessageCommand `cmd:"" group:"told" help:"Send a message that wants an answer."`
	Confirm     confirmCommand     `cmd:"" group:"told" help:"Answer a test message."`

	Mix      mixCommand      `cmd:"" group:"plants" help:"Work out nutrient solution."`
	Diary    diaryCommand    `cmd:"" group:"plants" help:"Write down, or list, what the switches cannot see."`
	TookOut  tookOutCommand  `cmd:"" group:"plants" help:"Say that you took out the water that a reservoir is told to lose."`
	ToppedUp toppedUpCommand `cmd:"" group:"plants" help:"Say whether you poured in the water that came and that nobody wrote down."`
	Outlook  outlookCommand  `cmd:"" group:"plants" help:"Tell what the plants will need, how long the water lasts, and what is proposed."`
	Advance  advanceCommand  `cmd:"" group:"plants" help:"Have a batch enter a stage of its plan."`
	Close    closeCommand    `cmd:"" group:"plants" help:"Close a batch: nothing floods for it any more."`
	Empty    emptyCommand    `cmd:"" group:"plants" help:"Mark a table empty: close every batch on it."`
	Sanitise sanitiseCommand `cmd:"" group:"plants" help:"Keep planned floods off while sanitiser is in the water, until rinsed is confirmed."`
	Rinsed   rinsedCommand   `cmd:"" group:"plants" help:"Confirm that bench and reservoir are rinsed: the end of sanitising."`

	History historyCommand `cmd:"" group:"record" help:"List the floods of the last days."`
	Export  exportCommand  `cmd:"" group:"record" help:"Print the record for other programs."`
	Backup  backupCommand  `cmd:"" group:"record" help:"Copy the whole record while the daemon runs."`
}

// run is the whole program: it carries out one command line and returns the
// exit code.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	return carryOut(ctx, &commands{}, args, stdin, stdout, stderr)
}
