package main

import (
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/bench"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"benchtide": main})
}

func TestCommandLines(t *testing.T) {
	configs, err := filepath.Abs("../../testdata/configs")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/scripts",
		RequireExplicitExec: true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "answers": answers, "shows": shows},
		Condition:           condition,
		Setup: func(e *testscript.Env) error {
			e.Setenv("CONFIGS", configs)
			return nil
		},
	})
}

// patience is how long the real program may take over anything.
const patience = 60 * time.Second

// condition knows [gpio]: this machine has lines to wire; and [installed]: it
// has the package's state, which no test may touch.
func condition(name string) (bool, error) {
	places := map[string]string{"gpio": "/dev/gpiochip*", "installed": bench.UsualState}
	if places[name] == "" {
		return false, fmt.Errorf("unknown condition %q", name)
	}
	there, err := filepath.Glob(places[name])
	return len(there) > 0, err
}

// exits runs a command and wants this exit code of it: exits CODE COMMAND...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND [ARGS...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	err = ts.Exec(args[1], args[2:]...)
	if exit, ok := errors.AsType[*exec.ExitError](err); ok {
		got, err = exit.ExitCode(), nil
	}
	ts.Check(err)
	if got != want {
		ts.Fatalf("exit code %d, want %d\n%s%s", got, want, ts.ReadFile("stdout"), ts.ReadFile("stderr"))
	}
}

// shows runs a command until it prints what matches: shows REGEXP COMMAND...
func shows(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: shows REGEXP COMMAND [ARGS...]")
	}
	wanted := regexp.MustCompile(args[0])
	for begun := time.Now(); ; {
		err := ts.Exec(args[1], args[2:]...)
		if err == nil && wanted.MatchString(ts.ReadFile("stdout")) {
			return
		}
		if time.Since(begun) > patience {
			ts.Fatalf("%s is not shown: %v\n%s", args[0], err, ts.ReadFile("stdout"))
		}
	}
}

// answers runs a command until a program that was just started answers it:
// answers COMMAND...
func answers(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: answers COMMAND [ARGS...]")
	}
	for begun := time.Now(); ; {
		err := ts.Exec(args[0], args[1:]...)
		if err == nil {
			return
		}
		if time.Since(begun) > patience {
			ts.Fatalf("no answer: %v\n%s", err, ts.ReadFile("stderr"))
		}
	}
}
