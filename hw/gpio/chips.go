package gpio

import (
	"os"
	"path/filepath"
	"slices"

	"benchtide/hw/lines"
)

// chip is one GPIO chip, as it is to be had now: its device file is another
// one after it went and came back, its label and its address are the same.
type chip struct {
	device  string // such as /dev/gpiochip0
	label   string
	address string // of its device on its bus, such as 1-0020; "" when unknown
	own     bool   // the processor reaches it by itself, not through a bus
	lines   uint32
}

// chips asks every chip that answers. The error is of those that do not.
func (h host) chips() ([]chip, error) {
	devices, err := h.kernel.Devices()
	if err != nil {
		return nil, err
	}
	var all []chip
	for _, d := range devices {
		label, n, failed := h.kernel.Chip(d)
		if failed != nil {
			err = failed
			continue
		}
		c := chip{device: d, label: label, lines: n}
		c.address, c.own = h.bus(d)
		c.own = c.own || lines.PiChip(label)
		all = append(all, c)
	}
	return all, err
}

// near are the kinds of device through which the processor reaches a chip by
// its own registers; whatever goes through another kind (i2c, spi, usb, a
// serial line) may be gone while the kernel still says that a level was set.
var near = []string{"platform", "pci", "amba", "auxiliary", "acpi", "pnp"}

// busUnder finds a chip's device in a sysfs tree: how the kernel calls it, and
// whether it is the processor's own.
func busUnder(sys, device string) (address string, own bool) {
	at, err := filepath.EvalSymlinks(filepath.Join(sys, "bus/gpio/devices", filepath.Base(device)))
	if err != nil {
		return "", false
	}
	top, err := filepath.EvalSymlinks(filepath.Join(sys, "devices"))
	if err != nil {
		return "", false
	}
	parent := filepath.Dir(at)
	for dir := parent; len(dir) > len(top); dir = filepath.Dir(dir) {
		kind, err := os.Readlink(filepath.Join(dir, "subsystem"))
		if err == nil && !slices.Contains(near, filepath.Base(kind)) {
			return filepath.Base(parent), false
		}
	}
	return filepath.Base(parent), true
}
