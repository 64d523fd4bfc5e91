package daemon

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// began opens the record in dir as the daemon does, and returns what is latched
// on the first bench and what a person is told of the record.
func began(t *testing.T, dir string, change func(name *string)) (latched []safety.Trip, found string) {
	site := exampleSite(t)
	if change != nil {
		change(&site.Name)
	}
	now := safety.Now{Mono: time.Hour, Wall: time.Date(2026, 4, 10, 3, 0, 0, 0, time.UTC), Trusted: true}
	k, err := stateFlags{}.open(site, kept{dir: dir}, now)
	require.NoError(t, err)
	guard, c, _, err := k.core(now, "boot")
	require.NoError(t, err)
	k.ledger.Record(nil, &loop.Checkpoint{Guard: guard.State(), Controller: c.State("boot")})
	require.NoError(t, k.ledger.Close())
	return guard.State().Benches[site.Benches[0].Name].Latched, strings.Join(k.found, " ")
}

func TestARecordOfWhichNothingIsLeftStartsLatchedAndIsTold(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	latched, found := began(t, dir, nil)
	require.Empty(t, latched, "a new record")
	require.Empty(t, found)

	require.NoError(t, os.WriteFile(filepath.Join(dir, ledger.SettingsName), []byte("a version in force\n"), 0o600))
	require.NoError(t, os.Remove(filepath.Join(dir, "ledger.db")))
	latched, found = began(t, dir, nil)
	assert.Empty(t, latched, "the copy is whole")
	assert.Contains(t, found, "floods go on")

	for _, name := range []string{"ledger.db", "witness.jsonl"} {
		require.NoError(t, os.Remove(filepath.Join(dir, name)))
	}
	latched, found = began(t, dir, nil)
	require.Len(t, latched, 1)
	assert.Equal(t, safety.StateLost, latched[0].Interlock)
	assert.Contains(t, found, "is lost: nothing floods there")
	latched, _ = began(t, dir, nil)
	require.Len(t, latched, 1, "until a person resets it")
}

func TestTheRecordOfAnotherSiteIsNotTakenOver(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	began(t, dir, func(name *string) { *name = "Elsewhere" })
	latched, found := began(t, dir, nil)
	require.Len(t, latched, 1)
	assert.Equal(t, safety.StateLost, latched[0].Interlock)
	assert.Contains(t, found, `is of the site "Elsewhere"`)
}

func TestACopyThatIsNotKeptAndFilesThatVanishAreTold(t *testing.T) {
	t.Parallel()
	var stats ledger.Stats
	var told []controller.Message
	w := storageWatch{stats: func() ledger.Stats { return stats }, tell: func(m controller.Message) { told = append(told, m) }}
	pass := func() {
		for range 3 {
			w.Turn(&loop.Turn{Now: safety.Now{Mono: w.next}})
		}
	}
	stats.Copy = errors.New("no space left")
	pass()
	require.Len(t, told, 1)
	assert.Contains(t, told[0].Text, "no space left")
	stats.Copy = nil
	pass()
	require.Len(t, told, 2)
	assert.True(t, told[1].Gone)
	stats.Found = []string{"The ledger was taken away."}
	pass()
	require.Len(t, told, 3)
	assert.Contains(t, told[2].Text, "taken away")
}
