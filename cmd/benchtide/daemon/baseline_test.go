package daemon

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// flooded is a flood of the example's bench, n days after the first.
func flooded(n int, fill time.Duration) controller.Event {
	at := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC).AddDate(0, 0, n)
	return controller.Event{Kind: controller.FloodEnded, At: safety.Now{Wall: at}, Flood: controller.Flood{
		ID: int64(n + 1), Due: at, Started: at, Ended: at.Add(20 * time.Minute), Cause: controller.BySchedule, Outcome: controller.Proven,
		Fill: fill, Fall: 2 * time.Minute, Run: 10 * time.Minute, Counted: true,
	}}
}

// A daemon starts after twenty floods on record, and its pump has just weakened.
func TestAStartGoesOnWithTheFloodTimesOnRecord(t *testing.T) {
	change := time.Date(2026, 3, 22, 12, 0, 0, 0, time.UTC)
	entry := func(kind ledger.DiaryKind, place string) ledger.Entry {
		return ledger.Diary{At: ledger.When{Time: change}, Kind: kind, Place: place}
	}
	for what, c := range map[string]struct {
		entry ledger.Entry
		told  int
	}{
		"nothing else":                  {nil, 1},
		"a note":                        {entry(ledger.Note, "north"), 1},
		"a person asked to begin anew":  {entry(ledger.Baseline, "north"), 0},
		"the whole site was cleaned":    {entry(ledger.Cleaning, ""), 0},
		"pots moved out":                {entry(ledger.MovedOut, "basil_spring"), 0},
		"a batch was closed":            {ledger.Stage{At: ledger.When{Time: change}, Batch: "basil_spring", Stage: -1}, 0},
		"a batch passed into its stage": {ledger.Stage{At: ledger.When{Time: change}, Batch: "basil_spring", Stage: 1}, 1},
	} {
		t.Run(what, func(t *testing.T) {
			k := keptFor(t, string(config.Example))
			for n := range 20 {
				k.ledger.Record([]controller.Event{flooded(n, 200*time.Second)}, nil)
			}
			if c.entry != nil {
				if d, ok := c.entry.(ledger.Diary); ok && d.Kind == ledger.MovedOut {
					pots := 40.0
					d.Value = &pots
					c.entry = d
				}
				require.NoError(t, k.ledger.Add(context.Background(), c.entry))
			}
			require.NoError(t, k.ledger.Flush(context.Background()))
			told := 0
			watch := drift.NewWatch([]drift.Bench{{}}, time.UTC, func(drift.Finding, controller.Message) { told++ })
			require.NoError(t, remember(context.Background(), watch, k, change.Add(time.Hour)))
			for n := range 10 {
				watch.Turn(&loop.Turn{Names: &controller.Names{Benches: []string{"north"}}, Events: []controller.Event{flooded(20+n, 240*time.Second)}})
			}
			assert.Equal(t, c.told, told)
		})
	}
}

func TestAFileThatChangesTableOrPotsBeginsNewBaselines(t *testing.T) {
	for what, c := range map[string]struct {
		old, new string
		want     bool
	}{
		"fewer pots":         {"pots: 96", "pots: 40", true},
		"a longer hose":      {"length: 3 m", "length: 4 m", true},
		"the float moved":    {"at: 26 mm", "at: 27 mm", true},
		"what was measured":  {"fill: 3.5 min", "fill: 3.4 min", false},
		"another flood time": {`"15:00"`, `"15:30"`, false},
		"nothing":            {"", "", false},
	} {
		t.Run(what, func(t *testing.T) {
			before, after := string(config.Example), strings.Replace(string(config.Example), c.old, c.new, 1)
			k := keptFor(t, before)
			require.NoError(t, k.noteSettings(context.Background(), version{"bench.yaml", []byte(before), k.site}, time.Now()))
			site, problems := config.Parse("bench.yaml", []byte(after))
			require.NoError(t, problems.Err())
			k.site = site
			require.NoError(t, k.noteSettings(context.Background(), version{"bench.yaml", []byte(after), site}, time.Now()))
			marks, err := k.marks(context.Background(), ledger.Query{})
			require.NoError(t, err)
			assert.Equal(t, c.want, len(marks) == 1, "%d marks", len(marks))
		})
	}
}

// keptFor is what a daemon of this file keeps in a directory of the test.
func keptFor(t *testing.T, text string) *kept {
	t.Helper()
	site, problems := config.Parse("bench.yaml", []byte(text))
	require.NoError(t, problems.Err())
	k, err := openRecord(kept{dir: t.TempDir()}, site)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, k.close()) })
	return &k
}
