package hw

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// Watchdog is a device that resets the machine when nobody has fed it for its
// timeout. It counts from the moment it is opened, and goes on counting when
// the program that fed it dies.
//
// It is the last layer under a loop that hangs: the reset leaves every line an
// input, and the relays follow their pulls. So it is fed by a turn of the loop
// that has verified itself (loop.Parts.Alive) and never from a timer, which
// would go on feeding beside a loop that stands still. A device has one
// feeder: where systemd feeds it (deploy/systemd/hardware-watchdog.conf), the
// program leaves it alone.
//
// The protocol is that of the kernel's Documentation/watchdog/watchdog-api.rst.
// A Watchdog is for one goroutine.
type Watchdog struct {
	Timeout time.Duration // as the device granted it, in whole seconds

	device *os.File
}

// OpenWatchdog arms the device at path, such as /dev/watchdog0, to reset the
// machine timeout after it was last fed. The device counts whole seconds, at
// least one; it may grant another timeout than was asked for.
func OpenWatchdog(path string, timeout time.Duration) (*Watchdog, error) {
	return openWatchdog(path, timeout, grantTimeout)
}

func openWatchdog(path string, timeout time.Duration, grant func(*os.File, time.Duration) (time.Duration, error)) (*Watchdog, error) {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return nil, fmt.Errorf("open the watchdog: %w; %s", err, watchdogFix(err))
	}
	w := &Watchdog{device: f}
	if w.Timeout, err = grant(f, timeout); err != nil {
		return nil, errors.Join(fmt.Errorf("set the watchdog %q to %v: %w; name a device that is one and takes that timeout", path, timeout, err), w.Close())
	}
	return w, nil
}

func watchdogFix(err error) string {
	switch {
	case errors.Is(err, unix.EBUSY):
		return "another program feeds it, perhaps systemd: leave it to that"
	case errors.Is(err, fs.ErrNotExist):
		return `load the driver of the board's watchdog, and look for its device with "ls /dev/watchdog*"`
	case errors.Is(err, fs.ErrPermission):
		return "let this program's user write to it"
	}
	return "name another device"
}

func grantTimeout(f *os.File, asked time.Duration) (time.Duration, error) {
	fd, seconds := int(f.Fd()), max(1, int(asked/time.Second))
	if err := unix.IoctlSetPointerInt(fd, unix.WDIOC_SETTIMEOUT, seconds); err != nil {
		return 0, err
	}
	granted, err := unix.IoctlGetUint32(fd, unix.WDIOC_GETTIMEOUT)
	return time.Duration(granted) * time.Second, err
}

// Feed starts the timeout anew. It does not wait.
func (w *Watchdog) Feed() error {
	if _, err := w.device.Write([]byte{0}); err != nil {
		return fmt.Errorf("feed the watchdog: %w", err)
	}
	return nil
}

// Close disarms the device, for a program that ends with every output off. A
// kernel that was told never to stop its watchdog (nowayout) resets the
// machine all the same unless somebody opens it again.
func (w *Watchdog) Close() error {
	_, err := w.device.Write([]byte{'V'})
	if err = errors.Join(err, w.device.Close()); err != nil {
		return fmt.Errorf("disarm the watchdog: %w; it may reset the machine", err)
	}
	return nil
}
