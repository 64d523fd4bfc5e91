// Command benchtide floods and drains an ebb-and-flood bench on time, proves
// that the water came and went, and stops the pump before anything spills.
//
// The commands are in packages by what they need: daemon keeps a bench, client
// asks the daemon, bench is for a person beside the bench, and offline answers
// from the site's file. The exit code is 0 when all is well, 1 when the answer is
// no, 2 when the command itself was wrong.
package main

import (
	"context"
	"io"
	"os"
	"slices"
	_ "time/tzdata" // small boards have no zone data of their own

	"benchtide/cmd/benchtide/bench"
	"benchtide/cmd/benchtide/cli"
	"benchtide/cmd/benchtide/client"
	"benchtide/cmd/benchtide/daemon"
	"benchtide/cmd/benchtide/offline"
)

func main() { os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// commands is the table of all commands; in the help they stand under their
// headings in this order.
func commands() []cli.Command {
	return slices.Concat(daemon.Commands(), bench.Commands(), []cli.Command{
		{Name: "version", Group: "bench", Help: "Print which program this is.", Do: version{}},
	}, client.Commands(), offline.Commands())
}

// run is the whole program: it carries out one command line and returns the
// exit code.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	return cli.Run(ctx, cli.Grammar(commands()), args, stdin, stdout, stderr)
}
