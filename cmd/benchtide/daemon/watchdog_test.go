package daemon

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

type fakeWatchdog struct {
	fed    []time.Duration
	now    *time.Duration
	err    error
	closed bool
}

func (d *fakeWatchdog) Feed() error {
	d.fed = append(d.fed, *d.now)
	return d.err
}

func (d *fakeWatchdog) Close() error {
	d.closed = true
	return nil
}

// newFakeWatchdog is armed; what it tells a person goes to notices.
func newFakeWatchdog(now *time.Duration, notices *[]string) (*watchdog, *fakeWatchdog) {
	device := &fakeWatchdog{now: now}
	return &watchdog{
		device: device,
		mono:   func() time.Duration { return *now },
		notice: func(f string, args ...any) { *notices = append(*notices, fmt.Sprintf(f, args...)) },
	}, device
}

func TestTheWatchdogIsFedByTurnsAndOnceASecond(t *testing.T) {
	now, notices := time.Duration(0), []string(nil)
	w, device := newFakeWatchdog(&now, &notices)
	for ; now < 3*time.Second; now += 250 * time.Millisecond {
		w.alive()
	}
	now += 10 * time.Second // in which no turn was good
	w.alive()
	assert.Equal(t, []time.Duration{0, time.Second, 2 * time.Second, 13 * time.Second}, device.fed)
	assert.Empty(t, notices)
}

func TestAWatchdogThatRefusesFoodIsToldOfOnce(t *testing.T) {
	now, notices := time.Duration(0), []string(nil)
	w, device := newFakeWatchdog(&now, &notices)
	device.err = errors.New("feed the watchdog: no")
	for ; now < 5*time.Second; now += time.Second {
		w.alive()
	}
	assert.Len(t, device.fed, 5)
	require.Len(t, notices, 1)
	assert.Contains(t, notices[0], "may reset the machine")
}

func TestOnlyADaemonThatEndedInOrderDisarmsTheWatchdog(t *testing.T) {
	now, notices := time.Duration(0), []string(nil)
	w, device := newFakeWatchdog(&now, &notices)
	failure := errors.New("put every output off: no")
	require.ErrorIs(t, w.close(failure), failure)
	assert.False(t, device.closed)
	require.NoError(t, w.close(nil))
	assert.True(t, device.closed)
}

func TestWithoutADeviceTheWatchdogDoesNothing(t *testing.T) {
	w := &watchdog{mono: func() time.Duration { return 0 }}
	require.NoError(t, w.open(""))
	w.alive()
	failure := errors.New("x")
	assert.Equal(t, failure, w.close(failure))
	assert.NoError(t, w.close(nil))
}
