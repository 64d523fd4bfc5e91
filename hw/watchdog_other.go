//go:build !linux

package hw

import (
	"errors"
	"fmt"
	"time"
)

// Watchdog is a device of Linux; no other machine opens one.
type Watchdog struct{ Timeout time.Duration }

// OpenWatchdog fails.
func OpenWatchdog(path string, _ time.Duration) (*Watchdog, error) {
	return nil, fmt.Errorf("open the watchdog %q: %w; only Linux has them", path, errors.ErrUnsupported)
}

// Feed fails.
func (w *Watchdog) Feed() error { return errors.ErrUnsupported }

// Close does nothing.
func (w *Watchdog) Close() error { return nil }
