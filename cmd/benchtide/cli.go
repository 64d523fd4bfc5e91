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

type commands struct {
	Demo        demoCommand        `cmd:"" help:"Run the built-in example on a simulated bench, faster than real time."`
	Run         runCommand         `cmd:"" help:"Run a site: the daemon."`
	Status      statusCommand      `cmd:"" help:"Tell how the benches stand."`
	Flood       floodCommand       `cmd:"" help:"Flood a bench once."`
	Stop        stopCommand        `cmd:"" help:"End the flood under way."`
	Skip        skipCommand        `cmd:"" help:"Leave out the next planned flood."`
	Pause       pauseCommand       `cmd:"" help:"Keep automatic floods off for a time."`
	Resume      resumeCommand      `cmd:"" help:"End a pause."`
	HandsIn     handsInCommand     `cmd:"" help:"Keep everything off while a person works in the benches."`
	Sanitise    sanitiseCommand    `cmd:"" help:"Keep planned floods off while sanitiser is in the water, until rinsed is confirmed."`
	Rinsed      rinsedCommand      `cmd:"" help:"Confirm that bench and reservoir are rinsed: the end of sanitising."`
	Advance     advanceCommand     `cmd:"" help:"Have a batch enter a stage of its plan."`
	Close       closeCommand       `cmd:"" help:"Close a batch: nothing floods for it any more."`
	Empty       emptyCommand       `cmd:"" help:"Mark a table empty: close every batch on it."`
	Reset       resetCommand       `cmd:"" help:"Release a latched trip."`
	Alarms      alarmsCommand      `cmd:"" help:"List the alarms that are not over."`
	Acknowledge acknowledgeCommand `cmd:"" help:"Say that somebody knows of an alarm."`
	Shelve      shelveCommand      `cmd:"" help:"Keep an alarm silent for a time."`
	Service     serviceCommand     `cmd:"" help:"Take an alarm out of service, or put it back."`
	TestMessage testMessageCommand `cmd:"" help:"Send a message that wants an answer."`
	Confirm     confirmCommand     `cmd:"" help:"Answer a test message."`
	History     historyCommand     `cmd:"" help:"List the floods of the last days."`
	Diary       diaryCommand       `cmd:"" help:"Write down what the switches cannot see."`
	Outlook     outlookCommand     `cmd:"" help:"Tell what the plants will need, how long the water lasts, and what is proposed."`
	Export      exportCommand      `cmd:"" help:"Print the record for other programs."`
	Backup      backupCommand      `cmd:"" help:"Copy the whole record while the daemon runs."`
	Check       checkCommand       `cmd:"" help:"Check a site's file and print what its benches come to."`
	Calendar    calendarCommand    `cmd:"" help:"List the floods to come."`
	Rehearse    rehearseCommand    `cmd:"" help:"Run a site's schedule, or a scenario of faults, on the simulated bench in virtual time."`
	Away        awayCommand        `cmd:"" help:"Check whether a site can be left alone until a date."`
	Mix         mixCommand         `cmd:"" help:"Work out nutrient solution."`
	Commission  commissionCommand  `cmd:"" help:"Check wiring and switches with a person beside the bench, and time its floods."`
	Off         offCommand         `cmd:"" help:"Put every output off."`
	Version     versionCommand     `cmd:"" help:"Print which program this is."`
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
	)
	if err != nil {
		return s.fail(err)
	}
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
	var problems config.Problems
	switch {
	case err == nil:
		return exitFine
	case errors.Is(err, errNo):
		return exitNo
	case errors.As(err, &problems):
		fmt.Fprintln(s.err, err)
		return exitNo
	}
	fmt.Fprintf(s.err, "benchtide: %v\n", err)
	if errors.As(err, new(usageError)) {
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
