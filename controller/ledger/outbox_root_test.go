//go:build linux && root

package ledger

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

func TestEachAlarmArrivesFromACardThatIsFull(t *testing.T) {
	dir := card(t, "512k")
	copyAll(t, keptOutbox(t, anOutbox()), dir)
	full := filepath.Join(dir, "something else")
	require.NoError(t, fillUp(full))
	l, r := open(t, dir, Options{Limits: limits})
	t.Logf("trouble: %v", r.Trouble)
	m := newMailbox()
	d, stop := dispatcherOn(l, m)
	assert.Equal(t, "msg_run_e", m.awaited(t).ID, "what waited")
	arrives(t, d, m, 100)
	require.NotEmpty(t, d.Status().Alarms)
	require.NoError(t, d.Acknowledge(0, "Kim"))
	stop()
	require.NoError(t, os.Remove(full))
	require.NoError(t, l.Flush(soon(t)))
	require.NoError(t, l.Close())
	again, r := open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages)
	assert.Empty(t, again.Outbox().Waiting, "all was written down once there was room")
}

func TestEachAlarmArrivesFromACardThatIsReadOnly(t *testing.T) {
	for name, prepare := range map[string]func(t *testing.T) string{
		"ledger":          func(t *testing.T) string { return keptOutbox(t, anOutbox()) },
		"the old version": oldState,
	} {
		t.Run(name, func(t *testing.T) {
			dir := card(t, "4m")
			copyAll(t, prepare(t), dir)
			require.NoError(t, unix.Mount("", dir, "", unix.MS_REMOUNT|unix.MS_RDONLY, ""))
			l, r := open(t, dir, Options{Limits: limits})
			require.Error(t, r.Trouble)
			m := newMailbox()
			d, stop := dispatcherOn(l, m)
			assert.Equal(t, "msg_run_e", m.awaited(t).ID, "what waited")
			arrives(t, d, m, 10)
			stop()
			require.NoError(t, unix.Mount("", dir, "", unix.MS_REMOUNT, ""))
			require.NoError(t, l.Flush(soon(t)))
			require.NoError(t, l.Close())
			assert.NoFileExists(t, filepath.Join(dir, oldName))
			again, _ := open(t, dir, Options{Limits: limits})
			assert.Empty(t, again.Outbox().Waiting)
		})
	}
}
