package live

import (
	"context"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
)

// planted is the example with one batch transplanted on a date and a plan of
// these lines.
func planted(t testing.TB, on string, stages ...string) *config.Site {
	t.Helper()
	text := strings.Replace(string(config.Example), "transplanted: 2026-03-02", "transplanted: "+on, 1)
	before, after, ok := strings.Cut(text, "  basil:\n")
	require.True(t, ok)
	after = after[strings.Index(after, "\nbatches:"):]
	site, problems := config.Parse("example.yaml", []byte(before+"  basil:\n    - "+strings.Join(stages, "\n    - ")+"\n"+after))
	require.NoError(t, problems.Err())
	return site
}

const firstStage = `{from_day: 0, flood_at: ["09:00"], hold: 4 min, strength: 25 %, can_wait: 48 h}`

// storage is a ledger with a diary. Whoever asks it waits while it is held.
type storage struct {
	diary []ledger.Diary
	held  chan struct{} // nil when nothing holds it
}

func (s *storage) wait(ctx context.Context) error {
	if s.held == nil {
		return nil
	}
	select {
	case <-s.held:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *storage) Stats() ledger.Stats { return ledger.Stats{} }

func (s *storage) Floods(ctx context.Context, _ ledger.Query) ([]controller.Row, error) {
	return nil, s.wait(ctx)
}

func (s *storage) Trips(ctx context.Context, _ ledger.Query) ([]ledger.Trip, error) {
	return nil, s.wait(ctx)
}

func (s *storage) Days(ctx context.Context, _ ledger.Query) ([]ledger.Day, error) {
	return nil, s.wait(ctx)
}

func (s *storage) Diary(ctx context.Context, _ ledger.Query) ([]ledger.Diary, error) {
	return s.diary, s.wait(ctx)
}

func (s *storage) Weighings(ctx context.Context, _ ledger.Query) ([]ledger.Weighing, error) {
	return nil, s.wait(ctx)
}

func (s *storage) Add(ctx context.Context, _ ledger.Entry) error { return s.wait(ctx) }

func (s *storage) Export(ctx context.Context, _ io.Writer, _ string, _ ledger.Format, _ ledger.Query) error {
	return s.wait(ctx)
}

func (s *storage) Backup(ctx context.Context, _ string) error { return s.wait(ctx) }
