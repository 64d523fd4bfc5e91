package client

import (
	"context"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/solution"
	"benchtide/controller/web"
)

// onBatch names the batch of an act.
type onBatch struct {
	Batch string `arg:"" optional:"" help:"Which batch; where there is only one it goes unnamed."`
}

type Sanitise struct {
	act
	onBench
	By string `placeholder:"NAME" help:"Who does it, for the record."`
}

func (Sanitise) Help() string {
	return `Every other bench on the same reservoir is kept dry, too. It has no end but
"benchtide rinsed", also across restarts. Floods by hand may start, to bring sanitiser and rinsing water through
the pump; they water no crop, and the crop clock goes on.

Example:

    benchtide sanitise north`
}

func (c Sanitise) Run(ctx context.Context, s *cli.Session) error {
	if err := c.do(ctx, s, "sanitise", web.SanitiseRequest{Bench: c.bench(), By: c.By}); err != nil {
		return err
	}
	s.Notice("%s", solution.CautionBleach)
	return nil
}

type Rinsed struct {
	act
	onBench
	By string `placeholder:"NAME" help:"Who confirms it, for the record."`
}

func (Rinsed) Help() string {
	return `Say it when pump and hose hold no sanitiser either. Floods start again by themselves. The next one is a new baseline of fill and fall
times, and is reported in detail: better watch it.

Example:

    benchtide rinsed north`
}

func (c Rinsed) Run(ctx context.Context, s *cli.Session) error {
	return c.do(ctx, s, "rinsed", web.SanitiseRequest{Bench: c.bench(), By: c.By})
}

type Advance struct {
	act
	onBatch
	ToDay *int `placeholder:"N" help:"The stage of its plan that begins at this day of its age; the one that is due, else the next, unless given."`
}

func (Advance) Help() string {
	return `It does so today, ahead of its age or when the stage is due. An earlier stage may be named, too: it holds until the age brings the one after.

Examples:

    benchtide advance basil_spring
    benchtide advance basil_spring --to-day 24`
}

func (c Advance) Run(ctx context.Context, s *cli.Session) error {
	return c.do(ctx, s, "advance", web.AdvanceRequest{Batch: c.Batch, FromDay: c.ToDay})
}

type Close struct {
	act
	onBatch
	Last   string `placeholder:"DATE" xor:"when" help:"Its last day on the bench; without it its floods stop at once."`
	Reopen bool   `xor:"when" help:"Take an earlier word back."`
}

func (Close) Help() string {
	return `For a batch that has left its bench, or will on a day to come.

Examples:

    benchtide close basil_spring
    benchtide close basil_spring --last 2026-05-30
    benchtide close basil_spring --reopen`
}

func (c Close) Run(ctx context.Context, s *cli.Session) error {
	return c.do(ctx, s, "close", web.CloseRequest{Batch: c.Batch, LastDay: c.Last, Reopen: c.Reopen})
}

type Empty struct{ benchAct }

func (Empty) Help() string {
	return `So nothing floods an empty table for weeks. "benchtide close --reopen" takes it back
for a batch.

Example:

    benchtide empty north`
}

func (c Empty) Run(ctx context.Context, s *cli.Session) error {
	return c.carryOut(ctx, s, "empty")
}
