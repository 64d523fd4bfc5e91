package hw

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// fakeDevice is a file that keeps what a watchdog's driver would be told.
func fakeDevice(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "watchdog0")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	return path
}

func told(t *testing.T, path string) string {
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(b)
}

func grants(granted time.Duration, err error) func(*os.File, time.Duration) (time.Duration, error) {
	return func(*os.File, time.Duration) (time.Duration, error) { return granted, err }
}

func TestOnlyACloseDisarmsTheWatchdog(t *testing.T) {
	path := fakeDevice(t)
	w, err := openWatchdog(path, 15*time.Second, grants(14*time.Second, nil))
	require.NoError(t, err)
	assert.Equal(t, 14*time.Second, w.Timeout)
	assert.Empty(t, told(t, path))
	for range 3 {
		require.NoError(t, w.Feed())
	}
	assert.Equal(t, "\x00\x00\x00", told(t, path))
	require.NoError(t, w.Close())
	assert.Equal(t, "\x00\x00\x00V", told(t, path))
}

func TestAWatchdogThatRefusesItsTimeoutIsDisarmed(t *testing.T) {
	path := fakeDevice(t)
	_, err := openWatchdog(path, time.Hour, grants(0, unix.EINVAL))
	require.ErrorIs(t, err, unix.EINVAL)
	assert.ErrorContains(t, err, "1h0m0s")
	assert.Equal(t, "V", told(t, path))
}

func TestWhatIsNoWatchdogIsRefused(t *testing.T) {
	_, err := OpenWatchdog("/dev/null", 15*time.Second)
	require.ErrorIs(t, err, unix.ENOTTY)
	assert.ErrorContains(t, err, `"/dev/null"`)

	_, err = OpenWatchdog(filepath.Join(t.TempDir(), "none"), 15*time.Second)
	require.ErrorIs(t, err, fs.ErrNotExist)
	assert.ErrorContains(t, err, "load the driver")
}

func TestADeviceThatTakesNoFoodSaysSo(t *testing.T) {
	w, err := openWatchdog("/dev/full", 15*time.Second, grants(15*time.Second, nil))
	require.NoError(t, err)
	require.ErrorIs(t, w.Feed(), unix.ENOSPC)
	err = w.Close()
	require.ErrorIs(t, err, unix.ENOSPC)
	assert.ErrorContains(t, err, "may reset the machine")
}
