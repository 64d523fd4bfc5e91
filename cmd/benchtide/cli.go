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

// carryOut has kong parse one command line by a grammar, a pointer to a struct of
// commands, carries it out and returns the exit code. Commands are run with the
// context and a *session.
func carryOut(ctx context.Context, grammar any, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	s := &session{in: stdin, out: stdout, err: stderr}
	code := -1 // not asked to exit
	parser, err := kong.New(grammar,
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
