//go:build linux && root

package ledger

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"benchtide/controller"
)

// These tests mount a small file system in memory. They need root:
// go test -tags root ./controller/ledger

// card mounts a file system of the given size.
func card(t *testing.T, size string) string {
	dir := t.TempDir()
	require.NoError(t, unix.Mount("tmpfs", dir, "tmpfs", 0, "mode=0750,size="+size))
	t.Cleanup(func() { _ = unix.Unmount(dir, unix.MNT_DETACH) })
	return dir
}

func TestASmallCardThatFillsUpIsCaughtUpWithOnceThereIsRoom(t *testing.T) {
	dir := card(t, "256k")
	l, r := open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Trouble)
	full := filepath.Join(dir, "something else")
	require.NoError(t, fillUp(full))
	for id := range int64(200) {
		l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(id+1), noon(1))}, aCheckpoint())
	}
	require.Eventually(t, func() bool { return l.Stats().Errors > 0 }, 5*time.Second, time.Millisecond)
	require.NoError(t, os.Remove(full))
	require.NoError(t, l.Flush(soon(t)))
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	assert.Len(t, rows, 200)
}

// soon ends with the test or after ten seconds.
func soon(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	t.Cleanup(cancel)
	return ctx
}

// fillUp writes to path until there is no room.
func fillUp(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	for {
		if _, err := f.Write(make([]byte, 4096)); err != nil {
			return f.Close()
		}
	}
}

func TestAFullCardAtTheStartStillTellsTheCheckpoint(t *testing.T) {
	dir := card(t, "256k")
	copyDir(t, kept(t, aCheckpoint()), dir)
	require.NoError(t, fillUp(filepath.Join(dir, "something else")))
	_, r := open(t, dir, Options{Limits: limits})
	require.NotNil(t, r.Checkpoint)
	assert.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1)
	t.Logf("trouble: %v", r.Trouble)
}

func TestAReadOnlyCardStillTellsTheCheckpointAndWritesOnceItCan(t *testing.T) {
	for name, dies := range map[string]bool{"after a stop": false, "after a death": true} {
		t.Run(name, func(t *testing.T) {
			dir := card(t, "4m")
			from := t.TempDir()
			l, _ := open(t, from, Options{Limits: limits})
			l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(1), noon(1))}, aCheckpoint())
			require.NoError(t, l.Flush(t.Context()))
			if !dies {
				require.NoError(t, l.Close())
			}
			copyDir(t, from, dir)
			require.NoError(t, unix.Mount("", dir, "", unix.MS_REMOUNT|unix.MS_RDONLY, ""))

			l, r, err := Open(dir, Options{Limits: limits})
			require.NoError(t, err)
			t.Logf("trouble: %v", r.Trouble)
			require.NotNil(t, r.Checkpoint)
			assert.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1)
			l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(8), noon(8))}, nil)
			require.Eventually(t, func() bool { return l.Stats().Errors > 0 }, 5*time.Second, time.Millisecond)

			require.NoError(t, unix.Mount("", dir, "", unix.MS_REMOUNT, ""))
			require.NoError(t, l.Flush(soon(t)))
			rows, err := l.Floods(t.Context(), Query{})
			require.NoError(t, err)
			assert.Len(t, rows, 2)
			require.NoError(t, l.Close())
		})
	}
}
