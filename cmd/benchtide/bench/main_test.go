package bench

import (
	"context"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"benchtide/cmd/benchtide/cli"
)

// TestMain has the tests start this binary as the program.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"benchtide": func() {
		os.Exit(cli.Run(context.Background(), cli.Grammar(Commands()), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}})
}
