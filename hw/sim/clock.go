package sim

import (
	"context"
	"fmt"
	"time"

	"benchtide/safety"
)

// Now tells the three clocks. The boot-time clock starts anew at a Start after
// a power cut.
func (w *World) Now() safety.Now {
	return safety.Now{Mono: w.At - w.Base, Wall: w.cfg.Start.Add(w.At + w.Shift).UTC(), Trusted: w.Trusted}
}

// Elapsed is the time since the start of the world. It never steps; faults and
// Advance count by it.
func (w *World) Elapsed() time.Duration { return w.At }

// Trust sets whether wall time may be believed.
func (w *World) Trust(trusted bool) { w.Trusted = trusted }

// longestWait bounds one Wait, so that a context is heard even by a world in
// which nothing happens.
const longestWait = 24 * time.Hour

// Wait advances the world until the boot-time clock reaches until, a switch's
// raw level changes, or a fault begins or ends, whichever is first, at most 24 h.
// It returns at once when wake has something or a change was not read yet.
// Beyond the context's error it can return ErrDown. During a hang it returns
// when the hang is over, however late that is.
func (w *World) Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	select {
	case <-wake:
		w.hangOn(w.At)
		return w.alive()
	default:
	}
	target := w.At + min(until-(w.At-w.Base), longestWait)
	if until == unlimited {
		target = w.At + longestWait
	}
	for w.Down == "" && !w.changed && w.At < target && !w.step(target) {
	}
	w.hangOn(target)
	return w.alive()
}

// hangOn lets time pass while the program hangs; its wake-up was due at target.
func (w *World) hangOn(target time.Duration) {
	dead := false
	for w.hang > w.At && w.Down == "" {
		until := w.hang
		if at := target + w.cfg.DeadMan; w.cfg.DeadMan > 0 && !dead {
			if w.At >= at {
				dead = true
				w.release()
			} else {
				until = min(until, at)
			}
		}
		w.step(until)
	}
}

// Step advances to until, counted from the start of the world, or to the next
// change of a raw reading or of a fault if that is earlier, and says whether it
// was such a change.
func (w *World) Step(until time.Duration) bool {
	for w.At < until {
		if w.step(until) {
			return true
		}
	}
	return false
}

// Advance advances to until, counted from the start of the world, whatever
// happens on the way.
func (w *World) Advance(until time.Duration) {
	for w.At < until {
		w.step(until)
	}
}

// Start starts the program again: after a power cut as a new boot, after a crash
// in the same one. It is an error while the cause lasts.
func (w *World) Start() error {
	h := w.Host()
	switch {
	case !h.Powered:
		return fmt.Errorf("start the program: no power at %s", w.At)
	case h.Crashing:
		return fmt.Errorf("start the program: it crashes again at %s", w.At)
	}
	if w.Down == downPower {
		w.Base = w.At
		w.Boots++
	}
	w.Down = ""
	return nil
}

// Host is the machine that the program runs on.
type Host struct {
	Powered  bool
	Running  bool // the program; false from a power cut or crash until Start
	Crashing bool // it would crash again
	Hung     bool
	Boots    int // machine starts so far

	StorageFull, StorageBroken, NetworkDown bool

	StorageSlow float64 // how much of SlowWrite a write takes
}

// SlowWrite is how long a write takes on storage that is as slow as it gets.
const SlowWrite = 10 * time.Second

// Host tells the state of the machine.
func (w *World) Host() Host {
	return Host{
		Powered: !w.Dark, Running: w.Down == "", Crashing: w.acting("process-crash"), Hung: w.hang > w.At, Boots: w.Boots,
		StorageFull: w.acting("storage-full"), StorageBroken: w.acting("storage-broken"), NetworkDown: w.acting("network-down"),
		StorageSlow: w.slow,
	}
}
