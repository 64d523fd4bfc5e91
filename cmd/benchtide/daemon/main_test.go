package daemon

import (
	"context"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"benchtide/cmd/benchtide/cli"
	"benchtide/cmd/benchtide/client"
)

// commands are those of the program that these tests start.
type commands struct {
	Run     Run            `cmd:""`
	Demo    Demo           `cmd:""`
	History client.History `cmd:""`
}

// TestMain has the tests start this binary as the program, and as the programs
// that ask much of it.
func TestMain(m *testing.M) {
	program := func() {
		os.Exit(cli.Run(context.Background(), &commands{}, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	testscript.Main(m, map[string]func(){"benchtide": program, "listeners": listeners, "pollers": pollers})
}
