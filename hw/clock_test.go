package hw

import (
	"context"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var _ Clock = (*SystemClock)(nil)

// bench is a machine whose clocks a test sets.
type bench struct {
	boot         time.Duration
	wall         time.Time
	synced, chip bool
	asked        int
}

func (b *bench) machine() machine {
	return machine{
		boot:         func() time.Duration { return b.boot },
		wall:         func() time.Time { return b.wall },
		synchronised: func() bool { b.asked++; return b.synced },
		chip:         func() bool { return b.chip },
	}
}

func TestWallTimeIsTrustedWhenSynchronisedOrKeptByAChip(t *testing.T) {
	floor := time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)
	for name, tt := range map[string]struct {
		synced, chip bool
		wall         time.Time
		trusted      bool
	}{
		"neither":                              {false, false, floor.Add(time.Hour), false},
		"synchronised":                         {true, false, floor.Add(time.Hour), true},
		"synchronised overrides the floor":     {true, false, floor.Add(-time.Hour), true},
		"chip after the floor":                 {false, true, floor.Add(time.Hour), true},
		"chip at the floor":                    {false, true, floor, true},
		"chip just before the floor":           {false, true, floor.Add(-1), false},
		"chip with a flat battery starts over": {false, true, time.Unix(0, 0), false},
	} {
		t.Run(name, func(t *testing.T) {
			b := &bench{wall: tt.wall, synced: tt.synced, chip: tt.chip}
			c := newSystemClock(b.machine())
			c.SetFloor(floor)
			assert.Equal(t, tt.trusted, c.Now().Trusted)
		})
	}
}

func TestChipIsNotTrustedBeforeTheProgramWasWritten(t *testing.T) {
	b := &bench{wall: firstFloor.Add(-1), chip: true}
	c := newSystemClock(b.machine())
	assert.False(t, c.Now().Trusted)
	b.wall = firstFloor
	assert.True(t, c.Now().Trusted)
}

func TestFloorNeverMovesBack(t *testing.T) {
	b := &bench{wall: firstFloor.AddDate(0, 6, 0), chip: true}
	c := newSystemClock(b.machine())
	c.SetFloor(firstFloor.AddDate(1, 0, 0))
	c.SetFloor(firstFloor)
	assert.False(t, c.Now().Trusted)
}

func TestKernelIsAskedOnceASecond(t *testing.T) {
	b := &bench{wall: firstFloor}
	c := newSystemClock(b.machine())
	for range 100 {
		b.boot += 10 * time.Millisecond
		require.False(t, c.Now().Trusted)
	}
	assert.Equal(t, 1, b.asked)

	b.synced = true
	b.boot += 10 * time.Millisecond
	assert.True(t, c.Now().Trusted)
	assert.Equal(t, 2, b.asked)
}

func TestWallTimeIsUTC(t *testing.T) {
	b := &bench{wall: time.Date(2026, 7, 1, 9, 0, 0, 0, time.FixedZone("east", 3600))}
	assert.Equal(t, time.UTC, newSystemClock(b.machine()).Now().Wall.Location())
}

// ticking is a machine whose boot-time clock runs with the bubble's time.
func ticking() *SystemClock {
	start := time.Now()
	return newSystemClock(machine{
		boot:         func() time.Duration { return time.Since(start) },
		wall:         time.Now,
		synchronised: func() bool { return true },
		chip:         func() bool { return false },
	})
}

// A turn with a pump on must not wait until the runtime asks the kernel what is due.
func TestAShortWaitEndsByTheRuntimesOwnTimer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, kernel := ticking(), 0
		c.machine.wait = func(_ context.Context, until time.Duration, _ <-chan struct{}) (woken, set bool) {
			kernel++
			time.Sleep(until - c.Now().Mono)
			return false, true
		}
		for wait, want := range map[time.Duration]int{10 * time.Millisecond: 0, shortNap: 0, shortNap + 1: 1, 250 * time.Millisecond: 1} {
			kernel = 0
			until := c.Now().Mono + wait
			require.NoError(t, c.Wait(t.Context(), until, nil))
			assert.Equal(t, until, c.Now().Mono)
			assert.Equal(t, want, kernel, wait.String())
		}
	})
}

func TestWaitEndsAtTheInstantAsked(t *testing.T) {
	for _, until := range []time.Duration{-time.Second, 0, time.Nanosecond, 10 * time.Millisecond, 3 * time.Hour} {
		synctest.Test(t, func(t *testing.T) {
			c := ticking()
			require.NoError(t, c.Wait(t.Context(), until, nil))
			assert.Equal(t, max(until, 0), c.Now().Mono)
		})
	}
}

func TestWaitEndsWhenWoken(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := ticking()
		wake := make(chan struct{}, 1)
		time.AfterFunc(time.Second, func() { wake <- struct{}{} })
		require.NoError(t, c.Wait(t.Context(), time.Hour, wake))
		assert.Equal(t, time.Second, c.Now().Mono)
	})
}

func TestWaitEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := ticking()
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		assert.ErrorIs(t, c.Wait(ctx, time.Hour, nil), context.DeadlineExceeded)
		assert.ErrorIs(t, c.Wait(ctx, 0, nil), context.DeadlineExceeded)
	})
}

// After a suspend the timer is late by the time slept; the wait must not be
// late by more than one nap.
func TestWaitNoticesTimeSpentAsleep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		var slept atomic.Int64
		time.AfterFunc(30*time.Second, func() { slept.Store(int64(8 * time.Hour)) })
		m := machine{boot: func() time.Duration { return time.Since(start) + time.Duration(slept.Load()) }}
		require.NoError(t, newSystemClock(m).Wait(t.Context(), 6*time.Hour, nil))
		assert.LessOrEqual(t, time.Since(start), time.Minute)
	})
}

func TestSystemClockRunsForward(t *testing.T) {
	c := NewSystemClock()
	before := c.Now()
	require.NoError(t, c.Wait(t.Context(), before.Mono+time.Millisecond, nil))
	after := c.Now()
	assert.GreaterOrEqual(t, after.Mono-before.Mono, time.Millisecond)
	assert.WithinDuration(t, time.Now(), after.Wall, time.Minute)
}

func TestBootIDIsTheKernelsWithoutItsNewline(t *testing.T) {
	path := filepath.Join(t.TempDir(), "boot_id")
	require.NoError(t, os.WriteFile(path, []byte("5f1c\n"), 0o600))
	assert.Equal(t, "5f1c", bootID(path))
	assert.Empty(t, bootID(path+".missing"))
}

func TestClockChipIsFoundByDeviceOrClass(t *testing.T) {
	for _, place := range []string{"dev/rtc0", "sys/class/rtc/rtc1"} {
		root := t.TempDir()
		assert.False(t, chipPresent(root))
		require.NoError(t, os.MkdirAll(filepath.Join(root, place), 0o700))
		assert.True(t, chipPresent(root), place)
	}
}
