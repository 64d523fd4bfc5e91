package hw

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"benchtide/safety"
)

const (
	trustEvery = time.Second // how long the kernel's answer about trust stands
	chipEvery  = time.Minute // and how long that there is a clock chip
	longestNap = time.Minute // a timer may stand still while the machine sleeps, so long waits are cut up

	// shortNap is as long as a wait may be that a timer of the runtime's ends. While
	// pumps run every wait is shorter, and on a busy machine the runtime sees its own
	// timers between any two goroutines, but asks the kernel for what is due only when
	// none is left to run, or after 10 ms.
	shortNap = 100 * time.Millisecond
)

// firstFloor bounds a clock chip's answer while nothing better is known: no
// correct clock shows a time before this program was written. A chip with a
// flat battery starts long before it.
var firstFloor = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// machine is what a SystemClock asks the machine for.
type machine struct {
	boot         func() time.Duration // time since boot, suspend included
	wall         func() time.Time
	synchronised func() bool // the kernel says that wall time follows a reference
	chip         func() bool // a battery-backed clock is present

	// wait is as alarm.wait; nil where the machine has no such timer.
	wait func(ctx context.Context, until time.Duration, wake <-chan struct{}) (woken, set bool)
}

// SystemClock is the machine's own clock: durations from the boot-time clock,
// which never steps and counts through suspend, and civil time in UTC.
//
// Wall time is trusted while the kernel says that it is synchronised, or when
// a clock chip is present and wall time is not before the floor of SetFloor.
// It is safe for use by several goroutines.
type SystemClock struct {
	machine machine

	floor  atomic.Pointer[time.Time]
	synced answer
	chip   answer
}

// answer is what the machine said last, kept for a while. It is asked for
// outside any lock: a turn of the loop reads the clock beside many others, and
// waits for none of them.
type answer struct{ last atomic.Pointer[said] }

type said struct {
	at  time.Duration
	yes bool
}

func (a *answer) of(ask func() bool, now, every time.Duration) bool {
	if s := a.last.Load(); s != nil && now-s.at < every {
		return s.yes
	}
	s := &said{now, ask()}
	a.last.Store(s)
	return s.yes
}

// NewSystemClock returns the machine's clock, its floor the year in which the
// program was written.
func NewSystemClock() *SystemClock { return newSystemClock(systemMachine()) }

func newSystemClock(m machine) *SystemClock {
	c := &SystemClock{machine: m}
	c.floor.Store(&firstFloor)
	return c
}

// SetFloor says that true time cannot be before t, say the newest trusted
// entry of the ledger. A floor never moves back.
func (c *SystemClock) SetFloor(t time.Time) {
	for {
		floor := c.floor.Load()
		if !t.After(*floor) || c.floor.CompareAndSwap(floor, &t) {
			return
		}
	}
}

// Now reads the three clocks together. The kernel is asked about trust at
// most once a second, and the machine for its clock chip once a minute.
func (c *SystemClock) Now() safety.Now {
	now := safety.Now{Mono: c.machine.boot(), Wall: c.machine.wall().UTC()}
	now.Trusted = c.trusted(now)
	return now
}

func (c *SystemClock) trusted(now safety.Now) bool {
	synced, chip := c.synced.of(c.machine.synchronised, now.Mono, trustEvery), c.chip.of(c.machine.chip, now.Mono, chipEvery)
	return synced || chip && !now.Wall.Before(*c.floor.Load())
}

// Wait returns when the boot-time clock reaches until, when wake delivers, or
// when ctx ends, whichever is first; the error is ctx's.
func (c *SystemClock) Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error {
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		now := c.machine.boot()
		if until <= now || c.nap(ctx, now, min(until-now, longestNap), wake) {
			return nil
		}
	}
}

// nap waits for d from now, at the longest, and reports whether wake delivered.
func (c *SystemClock) nap(ctx context.Context, now, d time.Duration, wake <-chan struct{}) (woken bool) {
	if c.machine.wait != nil && d > shortNap {
		if woken, set := c.machine.wait(ctx, now+d, wake); set {
			return woken
		}
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return false
	case <-wake:
		return true
	case <-ctx.Done():
		return false
	}
}

// BootID names this boot of the machine, or is "" where the kernel does not
// say. Boot-time clocks may be compared only between equal, non-empty names.
func BootID() string { return bootID("/proc/sys/kernel/random/boot_id") }

func bootID(path string) string {
	b, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// chipPresent reports whether a clock chip is there under root, "/" on a real
// machine.
func chipPresent(root string) bool {
	for _, pattern := range []string{"dev/rtc[0-9]*", "sys/class/rtc/rtc[0-9]*"} {
		if found, err := filepath.Glob(filepath.Join(root, pattern)); err == nil && len(found) > 0 {
			return true
		}
	}
	return false
}
