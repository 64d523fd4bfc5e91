package ledger

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A row from before checksums may hold what no program wrote. It is left out and
// told, and the next start finds two whole witnesses.
func TestACalibrationOfAnOlderFileThatIsNoneIsLeftOutAndTold(t *testing.T) {
	old := oldDir(t)
	at := bytes.Index(old.files[fileName], []byte(`{"fill_s":210}`))
	require.Positive(t, at)
	files := old.clone()
	files[fileName][at] = 0x12
	dir := t.TempDir()
	for name, data := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	for start := range 2 {
		l, r, err := Open(dir, old.o)
		require.NoError(t, err)
		assert.Empty(t, r.Commissioned)
		assert.NoError(t, l.Stats().Copy, "the second witness is written all the same")
		assert.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1)
		if start == 0 {
			assert.Equal(t, []string{"The ledger (ledger.db) is damaged: 1 row of commissioning left out, since what stands there was not written so."}, r.Found)
		} else {
			assert.Empty(t, r.Found)
		}
		require.NoError(t, l.Close())
	}
}

// Nothing but its key says that a bench is latched. One byte of the key may be
// damaged in a file from before checksums, in which nothing else tells.
func TestALatchOfAnOlderFileOutlivesItsKey(t *testing.T) {
	old := oldDir(t)
	key := `"guard":{"latched":[{`
	at := bytes.Index(old.files[fileName], []byte(key))
	require.Positive(t, at)
	for n, letter := range []byte(key) {
		if letter < 'a' || letter > 'z' {
			continue
		}
		files := old.clone()
		files[fileName][at+n] ^= 0x01
		out := old.start(t, files)
		assert.True(t, out.latched, "letter %d", n)
		assert.True(t, out.told, "letter %d", n)
	}
}
