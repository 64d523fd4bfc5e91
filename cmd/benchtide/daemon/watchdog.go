package daemon

import (
	"fmt"
	"time"

	"benchtide/hw"
)

type watchdogFlags struct {
	Watchdog string `placeholder:"DEVICE" help:"Have this hardware watchdog, such as /dev/watchdog0, reset the machine when the loop stands still; not where the service manager feeds it."`
}

// watchdogTimeout is how long the machine may go without a good turn. A
// Raspberry Pi's timer counts at most about 16 s (from memory).
const watchdogTimeout = 15 * time.Second

// feedEvery is how often a good turn is passed on to the device.
const feedEvery = time.Second

// watchdog feeds a device from turns of the loop; without a device it does
// nothing.
type watchdog struct {
	device interface {
		Feed() error
		Close() error
	}
	mono   func() time.Duration
	notice func(format string, args ...any)

	fed    time.Duration // when, on the boot-time clock
	ever   bool
	refuse bool // at the last try
}

// open arms the device at path. Once that is done only turns of the loop keep
// the machine from its reset.
func (w *watchdog) open(path string) error {
	if path == "" {
		return nil
	}
	device, err := hw.OpenWatchdog(path, watchdogTimeout)
	if err != nil {
		return err
	}
	w.device = device
	w.notice("The watchdog %s resets the machine when the loop stands still for %v.", path, device.Timeout)
	return nil
}

// alive passes on a turn that came in time and reached the board.
func (w *watchdog) alive() {
	now := w.mono()
	if w.device == nil || w.ever && now-w.fed < feedEvery {
		return
	}
	w.fed, w.ever = now, true
	err := w.device.Feed()
	if err != nil && !w.refuse {
		w.notice("%v: it may reset the machine", err)
	}
	w.refuse = err != nil
}

// close disarms the device after a daemon that ended in order. One that failed
// may have left an output on: the reset puts it off.
func (w *watchdog) close(failed error) error {
	if w.device == nil {
		return failed
	}
	if failed != nil {
		return fmt.Errorf("%w. The watchdog resets the machine", failed)
	}
	return w.device.Close()
}
