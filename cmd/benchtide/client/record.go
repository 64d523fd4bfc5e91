package client

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
)

// Export prints a table of the record.
type Export struct {
	ask.Daemon
	Format string `enum:"csv,jsonl" default:"csv" help:"csv, or jsonl: one JSON object a line."`
	Table  string `default:"floods" help:"floods, trips, diary, pauses, proof-tests, commissioning, stages, settings, events or outputs."`
	Last   string `placeholder:"TIME" help:"How far back, or since when; all unless given."`
	Bench  string `placeholder:"NAME" help:"Of one bench or other place alone."`
}

// Help is what its --help says beside the flags, with an example.
func (Export) Help() string {
	return `One table of it, oldest first. Times are local with their offset, quantities in the
unit that their name says.

Examples:

    benchtide export --last 365d > floods.csv
    benchtide export --table diary --format jsonl`
}

// Run prints it as it comes; an error says that it is not whole.
func (c Export) Run(ctx context.Context, s *cli.Session) error {
	rows, err := c.Client().Open(ctx, "export", ask.Parameters("table", c.Table, "format", c.Format, "since", c.Last, "bench", c.Bench))
	if err != nil {
		return err
	}
	defer rows.Close()
	if _, err := io.Copy(s.Out, rows); err != nil {
		return fmt.Errorf("export: broken off: %w", err)
	}
	return nil
}

// Backup copies the record.
type Backup struct {
	ask.Daemon
	File string `arg:"" help:"Where the copy goes; a file that is not there yet."`
	JSON bool   `help:"Print one JSON object."`
}

// Help is what its --help says beside the flags, with an example.
func (Backup) Help() string {
	return `To go on from a copy, put it as ledger.db into an empty state directory.

Example:

    benchtide backup ledger-2026-03-08.db`
}

// Run writes the copy, and leaves none that is not whole.
func (c Backup) Run(ctx context.Context, s *cli.Session) error {
	f, err := os.OpenFile(c.File, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o640)
	if err != nil {
		return cli.Usagef("write the backup: %w; name a file that is not there yet", err)
	}
	n, err := c.copy(ctx, f)
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(c.File)) // half a copy is none
	}
	if c.JSON {
		return s.PrintJSON(struct {
			File  string `json:"file"`
			Bytes int64  `json:"bytes"`
		}{c.File, n})
	}
	_, err = fmt.Fprintf(s.Out, "%s: %d KiB\n", c.File, (n+1023)/1024)
	return err
}

func (c Backup) copy(ctx context.Context, f *os.File) (int64, error) {
	data, err := c.Client().Open(ctx, "backup", nil)
	if err != nil {
		return 0, err
	}
	defer data.Close()
	n, err := io.Copy(f, data)
	if err != nil {
		return n, fmt.Errorf("back up: broken off: %w", err)
	}
	return n, f.Sync()
}
