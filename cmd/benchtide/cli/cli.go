// Package cli is what every command stands on: how a command line becomes a run
// command and its exit code, where a command reads and writes, and how it finds
// the site's file and other files that a person names.
package cli

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

// Groups are the headings of the help, in this order.
var Groups = []kong.Group{
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
	ExitFine  = 0
	ExitNo    = 1
	ExitUsage = 2
)

// Session is where a command reads and writes.
type Session struct {
	In       io.Reader
	Out, Err io.Writer
}

// UsageError is a mistake of whoever typed the command.
type UsageError struct{ error }

// Unwrap is what was wrong.
func (e UsageError) Unwrap() error { return e.error }

// Usage has an error be a mistake of whoever typed the command: the exit code is
// ExitUsage.
func Usage(err error) error { return UsageError{err} }

// Usagef is Usage of fmt.Errorf.
func Usagef(format string, args ...any) error { return Usage(fmt.Errorf(format, args...)) }

// ErrNo is the answer no, where the command has printed why.
var ErrNo = errors.New("the answer is no")

// fail tells of the error, if any, and returns the exit code.
func (s *Session) fail(err error) int {
	switch {
	case err == nil:
		return ExitFine
	case errors.Is(err, ErrNo):
		return ExitNo
	}
	if _, ok := errors.AsType[config.Problems](err); ok {
		fmt.Fprintln(s.Err, err)
		return ExitNo
	}
	fmt.Fprintf(s.Err, "benchtide: %v\n", err)
	if _, ok := errors.AsType[UsageError](err); ok {
		fmt.Fprintln(s.Err, `Try "benchtide --help", or --help after a command.`)
		return ExitUsage
	}
	return ExitNo
}

// Notice tells a person something beside the answer.
func (s *Session) Notice(format string, args ...any) { fmt.Fprintf(s.Err, format+"\n", args...) }

// PrintJSON writes v as the one object of the answer.
func (s *Session) PrintJSON(v any) error {
	e := json.NewEncoder(s.Out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// Print writes a report for people, or as the one object of the answer.
func (s *Session) Print(report interface{ WriteText(io.Writer) error }, asJSON bool) error {
	if asJSON {
		return s.PrintJSON(report)
	}
	return report.WriteText(s.Out)
}

// IsTerminal reports whether a person reads w.
func IsTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// Run has kong parse one command line by a grammar, as Grammar makes it, carries it
// out and returns the exit code. Commands are run with the context and a *Session.
func Run(ctx context.Context, grammar any, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	s := &Session{In: stdin, Out: stdout, Err: stderr}
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
		kong.ExplicitGroups(Groups),
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
		return s.fail(Usage(err))
	}
	return s.fail(command.Run())
}
