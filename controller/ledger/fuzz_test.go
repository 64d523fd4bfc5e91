package ledger

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzFile opens a ledger on any file at all: what is damaged is set aside, and
// the program starts.
func FuzzFile(f *testing.F) {
	dir := f.TempDir()
	l, _ := open(f, dir, Options{})
	require.NoError(f, l.Close())
	whole, err := os.ReadFile(filepath.Join(dir, fileName))
	require.NoError(f, err)
	f.Add(whole, 0, byte(0))
	f.Add(whole[:len(whole)/2], 0, byte(0))
	f.Add(whole[:100], 18, byte(9))
	f.Add(whole, 4096, byte(255))
	f.Add([]byte{}, 0, byte(0))
	f.Add([]byte("SQLite format 3\x00"), 16, byte(1))
	f.Fuzz(func(t *testing.T, data []byte, at int, with byte) {
		dir, data := t.TempDir(), bytes.Clone(data)
		if at >= 0 && at < len(data) {
			data[at] ^= with
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, fileName), data, 0o600))
		l, _, err := Open(dir, Options{})
		if err != nil {
			return // one that a newer program wrote is left alone
		}
		require.NoError(t, l.Close())
	})
}
