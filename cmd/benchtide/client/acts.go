package client

import (
	"context"
	"fmt"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/quantity"
	"benchtide/controller/web"
)

// act is common to the commands that act on a running daemon.
type act struct {
	ask.Daemon
	JSON bool `help:"Print one JSON object."`
}

// do carries the act out and prints what happens now.
func (a act) do(ctx context.Context, s *cli.Session, path string, request any) error {
	done, err := a.Client().Act(ctx, path, request)
	if err != nil {
		return err
	}
	if a.JSON {
		return s.PrintJSON(done)
	}
	_, err = fmt.Fprintln(s.Out, done.Done)
	return err
}

// onBench names the bench of an act.
type onBench struct {
	Name string `arg:"" optional:"" name:"bench" help:"Which bench; where there is only one it goes unnamed."`
	Flag string `name:"bench" hidden:""`
}

// Validate refuses two names.
func (b onBench) Validate() error {
	if b.Name != "" && b.Flag != "" && b.Name != b.Flag {
		return fmt.Errorf("bench %q and --bench %q: name one", b.Name, b.Flag)
	}
	return nil
}

func (b onBench) bench() string {
	if b.Name != "" {
		return b.Name
	}
	return b.Flag
}

// benchAct is an act on a bench that wants to know nothing else.
type benchAct struct {
	act
	onBench
}

func (a benchAct) carryOut(ctx context.Context, s *cli.Session, path string) error {
	return a.do(ctx, s, path, web.BenchRequest{Bench: a.bench()})
}

type Flood struct {
	act
	onBench
	Hold  string `placeholder:"TIME" help:"How long FULL is to stand; that of the day's stage unless given."`
	Proof bool   `help:"You have made sure that nobody works in the bench; needed from another machine."`
}

func (Flood) Help() string {
	return `It starts within seconds: see first that no hand is in the table. Every interlock
stays in force, and a flood that the guard would not allow now is refused with the
reason (exit code 1).

Example:

    benchtide flood north --hold "4 min"`
}

func (c Flood) Run(ctx context.Context, s *cli.Session) error {
	request := web.FloodRequest{Bench: c.bench(), Proof: c.Proof}
	if c.Hold != "" {
		hold, err := quantity.ParseDuration(c.Hold)
		if err != nil {
			return cli.Usagef("--hold: %w", err)
		}
		request.HoldS = hold.Seconds()
	}
	return c.do(ctx, s, "flood", request)
}

type Stop struct{ benchAct }

func (Stop) Help() string {
	return `Its pump goes off and the table drains; a flood that waits for its turn is
withdrawn. Before you reach in say "benchtide
hands-in on"; it isolates nothing, so unplug a pump before you touch it.

Example:

    benchtide stop north`
}

func (c Stop) Run(ctx context.Context, s *cli.Session) error {
	return c.carryOut(ctx, s, "stop")
}

type Skip struct{ benchAct }

func (Skip) Help() string {
	return `At its time it is written down as skipped; until then "benchtide undo-skip" takes
that back. The crop clock goes on. A second skip leaves out the flood after it; to
keep a bench dry for longer, pause it.

Example:

    benchtide skip north`
}

func (c Skip) Run(ctx context.Context, s *cli.Session) error {
	return c.carryOut(ctx, s, "skip-next")
}

type UndoSkip struct{ benchAct }

func (UndoSkip) Help() string {
	return `Of two skips it takes back the later one. The flood comes at its time: see that
nobody works in the bench then.

Example:

    benchtide undo-skip north`
}

func (c UndoSkip) Run(ctx context.Context, s *cli.Session) error {
	return c.carryOut(ctx, s, "undo-skip")
}

type Pause struct {
	act
	onBench
	Until string `required:"" placeholder:"TIME" help:"When floods start again: \"2026-03-08 15:00\", a date, or a length of time from now."`
	By    string `placeholder:"NAME" help:"Who pauses, for the record."`
}

func (Pause) Help() string {
	return `On one bench, or on all when none is named, for 14 days at most. Floods by hand may
start, and the crop clock goes on. Somebody who works in the bench wants hands-in.

Examples:

    benchtide pause --until "2026-03-08 15:00"
    benchtide pause north --until "12 h"`
}

func (c Pause) Run(ctx context.Context, s *cli.Session) error {
	return c.do(ctx, s, "pause", web.PauseRequest{Bench: c.bench(), Until: c.Until, By: c.By})
}

type Resume struct{ benchAct }

func (Resume) Help() string {
	return `Of one bench, or of all when none is named. Floods start again by themselves.

Example:

    benchtide resume north`
}

func (c Resume) Run(ctx context.Context, s *cli.Session) error {
	return c.carryOut(ctx, s, "resume")
}

type HandsIn struct {
	act
	State string `arg:"" name:"on|off" enum:"on,off" help:"on before you reach in, off when you are done."`
	Proof bool   `help:"You have made sure that nobody works in the benches; needed from another machine to end it."`
}

func (HandsIn) Help() string {
	return `Every pump goes off and nothing starts until it is ended; each hour it reminds you.
It isolates nothing: unplug a pump before you touch it or its wires.

Examples:

    benchtide hands-in on
    benchtide hands-in off`
}

func (c HandsIn) Run(ctx context.Context, s *cli.Session) error {
	on := c.State == "on"
	return c.do(ctx, s, "hands-in", web.HandsInRequest{On: &on, Proof: c.Proof})
}

type Reset struct {
	act
	onBench
	Found string `required:"" placeholder:"TEXT" help:"What was found, for the record."`
}

func (Reset) Help() string {
	return `A trip that latched keeps its bench off until a person has looked. Find the cause
and put it right, pumps unplugged; while it stands a reset is refused. The next
flood is reported in detail: better watch it.

Example:

    benchtide reset north --found "leaf in the standpipe"`
}

func (c Reset) Run(ctx context.Context, s *cli.Session) error {
	return c.do(ctx, s, "reset", web.ResetRequest{Bench: c.bench(), Found: c.Found})
}

type Drop struct {
	act
	Name  string `arg:"" name:"bench" help:"Which bench; status lists those that left the file."`
	Found string `required:"" placeholder:"TEXT" help:"What became of it, for the record."`
}

func (Drop) Help() string {
	return `A bench that is taken out of the file is not forgotten: put back, also under
another name, it is as locked as it was. Drop it when it is gone for good, or when
what locked it is put right.

Example:

    benchtide drop north --found "taken down"`
}

func (c Drop) Run(ctx context.Context, s *cli.Session) error {
	return c.do(ctx, s, "drop", web.ResetRequest{Bench: c.Name, Found: c.Found})
}
