package client

import (
	"context"
	"fmt"
	"reflect"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/solution"
)

// act is something that a running daemon does: a row of the table acts, and all
// that its command is made of.
type act struct {
	verb, group string
	path        string           // of the POST, below /api/v1/
	help, more  string           // the line in the list of commands, and what --help adds
	fields      fields           // as they are before the command line is read
	caution     solution.Caution // what a person is told when it is done
}

// fields are the flags and arguments of an act: a pointer to a struct of them.
type fields interface {
	// request is the body of the POST, an error what is wrong with the command line.
	request() (any, error)
}

// talking are fields whose act may take more than one request.
type talking interface {
	talk(s *cli.Session, ask func(request any) error) error
}

// command is the row of the act in the table of commands, with fields of its own.
func (a *act) command() cli.Command {
	own := reflect.New(reflect.TypeOf(a.fields).Elem()).Interface()
	return cli.Command{Name: a.verb, Group: a.group, Help: a.help, Do: acting{Fields: own, act: a}}
}

// acting is the command of an act.
type acting struct {
	ask.Daemon
	JSON   bool `help:"Print one JSON object."`
	Fields any  `embed:""`

	act *act
}

// Help is what --help adds.
func (c acting) Help() string { return c.act.more }

// Validate refuses fields that do not go together.
func (c acting) Validate() error {
	if v, ok := c.Fields.(interface{ Validate() error }); ok {
		return v.Validate()
	}
	return nil
}

// Run carries the act out and prints what happens now.
func (c acting) Run(ctx context.Context, s *cli.Session) error {
	if t, ok := c.Fields.(talking); ok {
		return t.talk(s, func(request any) error { return c.post(ctx, s, request) })
	}
	request, err := c.Fields.(fields).request()
	if err != nil {
		return err
	}
	if err := c.post(ctx, s, request); err != nil {
		return err
	}
	if c.act.caution != "" {
		s.Notice("%s", c.act.caution)
	}
	return nil
}

func (c acting) post(ctx context.Context, s *cli.Session, request any) error {
	done, err := c.Client().Act(ctx, c.act.path, request)
	if err != nil {
		return err
	}
	if c.JSON {
		return s.PrintJSON(done)
	}
	_, err = fmt.Fprintln(s.Out, done.Done)
	return err
}
