// Command benchtide floods and drains an ebb-and-flood bench on time, proves
// that the water came and went, and stops the pump before anything spills.
//
// Each subcommand has a file of its own. Those that keep a bench, run and
// demo, put a board and its clock together and hand them to serve; the others
// ask a question of the site's file and print the answer, for people or with
// --json for programs. The exit code is 0 when all is well, 1 when the answer
// is no, 2 when the command itself was wrong.
package main

import (
	"context"
	"os"
	_ "time/tzdata" // small boards have no zone data of their own
)

func main() { os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
