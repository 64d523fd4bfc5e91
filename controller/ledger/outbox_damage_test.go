package ledger

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/outbox"
)

// damages are what can become of a file.
var damages = map[string]func([]byte) []byte{
	"empty":   func([]byte) []byte { return nil },
	"garbage": func(d []byte) []byte { return bytes.Repeat([]byte("no database "), len(d)/12) },
	"cut":     func(d []byte) []byte { return d[:len(d)/2] },
	"header":  func(d []byte) []byte { return append(bytes.Repeat([]byte{0}, 100), d[100:]...) },
	"pages":   func(d []byte) []byte { return append(d[:1024:1024], bytes.Repeat([]byte{0xff}, len(d)-1024)...) },
}

func spoil(t *testing.T, path string, damage func([]byte) []byte) {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, damage(data), 0o640))
}

func TestMessagesOutlastALedgerThatIsSetAside(t *testing.T) {
	t.Parallel()
	for name, damage := range damages {
		t.Run(name, func(t *testing.T) {
			dir := keptOutbox(t, anOutbox())
			spoil(t, filepath.Join(dir, fileName), damage)
			l, r := open(t, dir, Options{Limits: limits})
			require.NotEmpty(t, r.SetAside)
			require.NoError(t, r.Messages)
			require.Equal(t, anOutbox(), l.Outbox())
			require.NoError(t, l.Close())
			justLedger(t, dir)
			l, _ = open(t, dir, Options{Limits: limits})
			require.Equal(t, anOutbox(), l.Outbox(), "the new ledger has them")
		})
	}
}

func TestASpoiltCopyIsNoneAndIsMadeAnew(t *testing.T) {
	t.Parallel()
	for name, damage := range map[string]func([]byte) []byte{
		"empty": damages["empty"], "garbage": damages["garbage"], "cut": damages["cut"],
		"a letter": func(d []byte) []byte { return bytes.Replace(d, []byte("Kim"), []byte("Tim"), 1) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := keptOutbox(t, anOutbox())
			spoil(t, filepath.Join(dir, copyName), damage)
			l, r := open(t, dir, Options{Limits: limits})
			require.NoError(t, r.Messages, "the ledger is whole")
			require.Equal(t, anOutbox(), l.Outbox())
			l.Keep(anOutbox(), false)
			require.NoError(t, l.Close())
			justCopy(t, dir)
			l, _ = open(t, dir, Options{Limits: limits})
			require.Equal(t, anOutbox(), l.Outbox())
		})
	}
}

// Whatever byte changes, a message that waits is read as it was, or from the
// copy; where there is none, a person is told.
func TestOneByteChangedInTheLedgerLosesNoMessageInSilence(t *testing.T) {
	t.Parallel()
	whole := keptOutbox(t, anOutbox())
	data, err := os.ReadFile(filepath.Join(whole, fileName))
	require.NoError(t, err)
	copied, err := os.ReadFile(filepath.Join(whole, copyName))
	require.NoError(t, err)
	chance := rand.New(rand.NewPCG(1, 2))
	lost := 0
	for _, at := range places(data, chance) {
		bad := bytes.Clone(data)
		bad[at] ^= byte(1 + chance.IntN(255))
		for _, withCopy := range []bool{true, false} {
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, fileName), bad, 0o640))
			if withCopy {
				require.NoError(t, os.WriteFile(filepath.Join(dir, copyName), copied, 0o640))
			}
			l, r, err := Open(dir, Options{Limits: limits})
			require.NoError(t, err, "at %d", at)
			same := assert.ObjectsAreEqual(anOutbox(), l.Outbox())
			if withCopy {
				require.Equal(t, anOutbox(), l.Outbox(), "at %d with a copy", at)
			} else if !same {
				lost++
				require.True(t, r.Messages != nil, "at %d without a copy: other than it was, and nobody is told", at)
			}
			require.NoError(t, l.Close())
		}
	}
	t.Logf("%d of %d bytes changed without a copy lost something, and each was told", lost, len(places(data, chance)))
	assert.NotZero(t, lost)
}

// places are bytes of a ledger to be changed: those of the outbox's words, and a
// few anywhere.
func places(data []byte, chance *rand.Rand) (all []int) {
	for _, word := range []string{"msg_run_", "Kim", "drain-window", "123456", "no route", "mail"} {
		for at := 0; ; {
			i := bytes.Index(data[at:], []byte(word))
			if i < 0 {
				break
			}
			all = append(all, at+i, at+i+len(word)-1)
			at += i + len(word)
		}
	}
	for range 20 {
		all = append(all, chance.IntN(len(data)))
	}
	return all
}

func TestWithoutACopyWhatCanBeReadOfASpoiltOutboxIsGoneOnFrom(t *testing.T) {
	t.Parallel()
	dir := keptOutbox(t, anOutbox())
	justLedger(t, dir)
	spoil(t, filepath.Join(dir, fileName), func(d []byte) []byte {
		return bytes.ReplaceAll(d, []byte(`{"id":4,"cause"`), []byte(`{"id":4,"CAUSE"`))
	})
	l, r := open(t, dir, Options{Limits: limits})
	require.ErrorContains(t, r.Messages, "1 rows are damaged")
	want := anOutbox()
	want.Waiting = want.Waiting[1:]
	require.Equal(t, want, l.Outbox())
	require.NoError(t, l.Close())
	l, r = open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages, "it is told once, and the row is gone")
	require.Equal(t, want, l.Outbox())
}

func TestWhatStorageHidesAtTheStartIsJoinedOnceItCanBeRead(t *testing.T) {
	t.Parallel()
	dir := keptOutbox(t, anOutbox())
	justLedger(t, dir)
	path, hidden := filepath.Join(dir, fileName), filepath.Join(dir, "hidden")
	require.NoError(t, os.Rename(path, hidden))
	require.NoError(t, os.Symlink(fileName, path)) // it leads to itself: nothing can be read
	l, r := open(t, dir, Options{Limits: limits})
	require.Error(t, r.Trouble)
	require.True(t, ptr(l.Outbox()).Empty())
	found := make(chan outbox.State, 1)
	l.OnFound(func(s outbox.State) { found <- s })
	since := outbox.State{Waiting: []outbox.Message{aMessage(1, "mail")}}
	l.Keep(since, true)

	require.NoError(t, os.Rename(hidden, path))
	require.NoError(t, l.Flush(t.Context()))
	late := <-found
	assert.Equal(t, anOutbox(), late)
	require.NoError(t, l.Close())
	justLedger(t, dir)
	l, _ = open(t, dir, Options{Limits: limits})
	var ids []string
	for _, p := range l.Outbox().Waiting {
		ids = append(ids, p.ID)
	}
	assert.ElementsMatch(t, []string{"msg_run_b", "msg_run_e", "msg_run_f"}, ids, "both, although nobody joined them yet")
}
