package ledger

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var keep = flag.Bool("keep", false, "write testdata/ledger-vN.db of the present version N, once, before N is released")

func keptFile(version int) string {
	return filepath.Join("testdata", fmt.Sprintf("ledger-v%d.db", version))
}

// weighedVersion is the first that keeps weighings.
const weighedVersion = 6

func TestEveryVersionThereEverWasStillOpensWithAllItsRows(t *testing.T) {
	t.Parallel()
	if *keep {
		l := filled(t)
		require.NoError(t, os.RemoveAll(keptFile(len(schema))))
		require.NoError(t, l.Backup(t.Context(), keptFile(len(schema))))
	}
	for v := 1; v <= len(schema); v++ {
		t.Run(fmt.Sprint(v), func(t *testing.T) {
			data, err := os.ReadFile(keptFile(v))
			require.NoError(t, err, "every version has its file; write it with -keep")
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, fileName), data, 0o600))

			l, r := open(t, dir, Options{Limits: limits, Zone: dublin})
			require.NoError(t, r.Trouble)
			require.Empty(t, r.SetAside)
			require.Equal(t, aCheckpoint().Guard, r.Checkpoint.Guard)
			if v >= outboxVersion {
				require.Equal(t, anOutbox(), l.Outbox())
			}
			for _, table := range Tables() {
				if table == "weighings" && v < weighedVersion {
					continue
				}
				n := 0
				for _, err := range exports[table].rows(t.Context(), l, Query{}) {
					require.NoError(t, err)
					n++
				}
				assert.Positive(t, n, table)
			}
			fill(t, l)
		})
	}
}

// later versions, made up
const (
	addsAColumn = "ALTER TABLE floods ADD COLUMN depth REAL; UPDATE floods SET depth = 0.03;"
	isWrong     = "ALTER TABLE floods ADD COLUMN width REAL; UPDATE nothing SET width = 1;"
)

func atPath(path string, steps ...string) *store {
	return &store{path: path, schema: append(append([]string{}, schema...), steps...), now: time.Now, totals: map[dayOutput]run{}}
}

func TestAMigrationKeepsTheRowsAndIsDoneOnce(t *testing.T) {
	t.Parallel()
	dir := kept(t, aCheckpoint())
	path := filepath.Join(dir, fileName)
	for range 2 {
		s := atPath(path, addsAColumn)
		require.NoError(t, s.ready())
		var version int
		require.NoError(t, s.db.QueryRow("PRAGMA user_version").Scan(&version))
		assert.Equal(t, len(schema)+1, version)
		assert.Len(t, s.found.parts, 4)
		s.close()
	}
	_, r := open(t, dir, Options{})
	require.ErrorIs(t, r.Trouble, errNewer)
}

func TestAMigrationThatFailsLeavesTheVersionBefore(t *testing.T) {
	t.Parallel()
	dir := kept(t, aCheckpoint())
	s := atPath(filepath.Join(dir, fileName), addsAColumn, isWrong)
	require.ErrorContains(t, s.ready(), fmt.Sprintf("bring the ledger to version %d: ", len(schema)+2))
	s = atPath(s.path, addsAColumn)
	require.NoError(t, s.ready())
	assert.Empty(t, s.aside, "a failed step is no damage")
	_, err := s.db.Exec("SELECT width FROM floods")
	require.Error(t, err)
	s.close()
}
