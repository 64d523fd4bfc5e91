package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/alecthomas/kong"
	"golang.org/x/term"

	"benchtide/controller/config"
)

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

// groups are the headings of the help, in this order.
var groups = []kong.Group{
	{Key: "try", Title: "Before there is a bench:"},
	{Key: "bench", Title: "The bench and its daemon:"},
	{Key: "day", Title: "Day by day:"},
	{Key: "told", Title: "Being told:"},
	{Key: "plants", Title: "Plants and solution:"},
	{Key: "record", Title: "The record:"},
	{Key: "verb", Title: "Commands:"},
	{Key: "heard", Title: "Where it is heard:"},
	{Key: "daemon", Title: "Which daemon:"},
}

// Exit codes.
const (
	exitFine  = 0
	exitNo    = 1
	exitUsage = 2
)

// session is where a command reads and writes.
type session struct {
	in       io.Reader
	out, err io.Writer
}

// run is the whole program: it carries out one command line and returns the
// exit code.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	var c commands
	s := &session{in: stdin, out: stdout, err: stderr}
	code := -1 // not asked to exit
	parser, err := kong.New(&c,
		kong.Name("benchtide"),
		kong.Description("Floods and drains an ebb-and-flood bench on time, proves each flood, and keeps the water off the floor."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(asked int) { code = asked }),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(s),
		kong.WithHyphenPrefixedParameters(true), // a temperature may be below zero
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true}),
		kong.ExplicitGroups(groups),
	)
	if err != nil {
		return s.fail(err)
	}
	parser.Model.HelpFlag.Help = "Show this help."
	command, err := parser.Parse(args)
	switch {
	case code >= 0: // --help was answered
		return code
	case err != nil:
		return s.fail(usage(err))
	}
	return s.fail(command.Run())
}

// usageError is a mistake of whoever typed the command.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

func usage(err error) error { return usageError{err} }

func usagef(format string, args ...any) error { return usage(fmt.Errorf(format, args...)) }

// errNo is the answer no, where the command has printed why.
var errNo = errors.New("the answer is no")

// fail tells of the error, if any, and returns the exit code.
func (s *session) fail(err error) int {
	switch {
	case err == nil:
		return exitFine
	case errors.Is(err, errNo):
		return exitNo
	}
	if _, ok := errors.AsType[config.Problems](err); ok {
		fmt.Fprintln(s.err, err)
		return exitNo
	}
	fmt.Fprintf(s.err, "benchtide: %v\n", err)
	if _, ok := errors.AsType[usageError](err); ok {
		fmt.Fprintln(s.err, `Try "benchtide --help", or --help after a command.`)
		return exitUsage
	}
	return exitNo
}

// notice tells a person something beside the answer.
func (s *session) notice(format string, args ...any) { fmt.Fprintf(s.err, format+"\n", args...) }

// printJSON writes v as the one object of the answer.
func (s *session) printJSON(v any) error {
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// isTerminal reports whether a person reads w.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
