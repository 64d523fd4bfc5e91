package daemon

import (
	"context"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"benchtide/cmd/benchtide/cli"
	"benchtide/cmd/benchtide/client"
)

// TestMain has the tests start this binary as the program, and as the programs
// that ask much of it.
func TestMain(m *testing.M) {
	program := func() {
		commands := append(Commands(), client.Commands()...)
		os.Exit(cli.Run(context.Background(), cli.Grammar(commands), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	testscript.Main(m, map[string]func(){"benchtide": program, "listeners": listeners, "pollers": pollers})
}
