package offline

import (
	"context"
	"io"
	"os"
	"path/filepath"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/rehearse/score"
	"benchtide/hw/sim"
)

const mostScored = 100_000 // benches

// score holds what the program states against what is true, on random benches.
func (c Rehearse) score(ctx context.Context, s *cli.Session) error {
	nature, err := c.nature()
	if err == nil && nature == nil {
		nature, err = sim.NatureNamed("wild")
	}
	if err != nil {
		return err
	}
	report, err := score.Run(ctx, score.Options{
		Benches: c.Score, Seed: or(c.Seed, defaultSeed), Workers: c.Workers, Nature: nature, Progress: progress(s.Err),
	})
	if err != nil {
		return err
	}
	if err = s.Print(report, c.JSON); err == nil && c.Report != "" {
		err = c.drawScore(s, report)
	}
	return err
}

// drawScore writes picture and table into the directory that was asked for.
func (c Rehearse) drawScore(s *cli.Session, report *score.Report) error {
	if err := os.MkdirAll(c.Report, 0o755); err != nil {
		return cli.Usagef("make the directory of the report: %w; name one that can be written", err)
	}
	picture := filepath.Join(c.Report, "score.svg")
	err := cli.WriteFile(picture, func(w io.Writer) error {
		_, err := io.WriteString(w, report.Picture())
		return err
	})
	if err == nil {
		err = cli.WriteFile(filepath.Join(c.Report, "score.md"), report.WriteTable)
	}
	if err == nil {
		s.Notice("The picture is in %s.", picture)
	}
	return err
}
