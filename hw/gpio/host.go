package gpio

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"periph.io/x/conn/v3/driver/driverreg"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	periph "periph.io/x/host/v3"
	"periph.io/x/host/v3/bcm283x"
	"periph.io/x/host/v3/gpioioctl"
)

// host is what a board needs of the machine: its lines by name, where each one
// is, the kernel that claims them, and the files of its thermometers.
type host struct {
	find     func(name string) gpio.PinIO // nil when there is no such line
	locate   func(gpio.PinIO) (place, bool)
	kernel   kernel
	readFile func(string) ([]byte, error)
}

// systemHost is this machine. periph's own error is nil without any GPIO, so
// its chips are looked at instead.
func systemHost() (host, error) {
	state, err := periph.Init()
	if err != nil {
		return host{}, fmt.Errorf("look for GPIO: %w", err)
	}
	if len(gpioioctl.Chips) == 0 {
		return host{}, noChips("/dev", state)
	}
	return host{find: gpioreg.ByName, locate: locate, kernel: systemKernel(), readFile: os.ReadFile}, nil
}

// noChips says why periph found no chip among the devices of dev.
func noChips(dev string, state *driverreg.State) error {
	devices, _ := filepath.Glob(filepath.Join(dev, "gpiochip*")) // the pattern is well formed
	if len(devices) == 0 {
		return &refusal{
			what:  "open the gpio board",
			cause: fmt.Sprintf("this machine has no GPIO (no %s/gpiochip*)", dev) + driverSays(state),
			fix:   "run on a board with GPIO lines and their kernel driver, or set board: simulated",
		}
	}
	for _, d := range devices {
		f, err := os.Open(d)
		if err != nil {
			return explain("open the gpio board", err, "")
		}
		_ = f.Close()
	}
	return &refusal{
		what:  "open the gpio board",
		cause: fmt.Sprintf("%s did not answer as a GPIO chip", strings.Join(devices, ", ")) + driverSays(state),
		fix:   fixKernel,
	}
}

// driverSays adds what periph's driver of GPIO chips said, if anything.
func driverSays(state *driverreg.State) string {
	for _, f := range slices.Concat(state.Failed, state.Skipped) {
		if f.D.String() == "ioctl-gpio" && f.Err != nil {
			return ": " + f.Err.Error()
		}
	}
	return ""
}

// locate finds the kernel's line behind a pin of periph. The Raspberry Pi's
// own pins are, by periph's rule, the lines of the first chip.
func locate(p gpio.PinIO) (place, bool) {
	if alias, ok := p.(gpio.RealPin); ok {
		return locate(alias.Real())
	}
	switch p := p.(type) {
	case *gpioioctl.GPIOLine:
		for _, c := range gpioioctl.Chips {
			if slices.Contains(c.Lines(), p) {
				return place{c.Path(), uint32(p.Number())}, true
			}
		}
	case *bcm283x.Pin:
		if len(gpioioctl.Chips) > 0 && p.Number() < gpioioctl.Chips[0].LineCount() {
			return place{gpioioctl.Chips[0].Path(), uint32(p.Number())}, true
		}
	}
	return place{}, false
}

// survey finds where the wanted lines are, and refuses those that are missing,
// doubled or held by someone else. It touches no line. All refusals are told
// at once; the places answer to wants one by one.
func (h host) survey(wants []want) ([]place, error) {
	places := make([]place, len(wants))
	takenBy := map[place]want{}
	var refusals []error
	for i, w := range wants {
		at, err := h.inspect(w)
		if err == nil {
			if first, doubled := takenBy[at]; doubled {
				err = &refusal{
					what:  w.String(),
					cause: fmt.Sprintf("it is the same line as %q of %s", first.line, first.use),
					fix:   "give each its own line",
				}
			}
			takenBy[at] = w
		}
		places[i] = at
		refusals = append(refusals, err)
	}
	return places, errors.Join(refusals...)
}

// want is a line and what it is for.
type want struct{ line, use string }

func (w want) String() string { return fmt.Sprintf("claim line %q for %s", w.line, w.use) }

func (h host) inspect(w want) (place, error) {
	if w.line == "" {
		return place{}, &refusal{what: w.String(), cause: "no line is named", fix: "name one, as in line: GPIO5"}
	}
	pin := h.find(w.line)
	if pin == nil {
		return place{}, &refusal{
			what:  w.String(),
			cause: "this machine has no line of that name" + knownLines(w.line, gpioreg.All()),
			fix:   "correct the name; gpioinfo lists the kernel's lines",
		}
	}
	at, ok := h.locate(pin)
	if !ok {
		return place{}, &refusal{
			what:  w.String(),
			cause: "it is not a line of a kernel GPIO chip, so it can be neither claimed nor given a first level",
			fix:   "use a line that gpioinfo lists",
		}
	}
	info, err := h.kernel.Info(at)
	if err != nil {
		return at, explain(w.String(), err, "")
	}
	if info.used {
		return at, busy(w.String(), info.consumer, nil)
	}
	return at, nil
}

// knownLines names the first and the last line whose name begins with the same
// letters, as a hint at what there is.
func knownLines(wanted string, all []gpio.PinIO) string {
	letters := strings.TrimRight(wanted, "0123456789")
	alike := slices.DeleteFunc(all, func(p gpio.PinIO) bool { return !strings.HasPrefix(p.Name(), letters) })
	if len(alike) == 0 {
		return ""
	}
	return fmt.Sprintf(" (it has %s to %s)", alike[0].Name(), alike[len(alike)-1].Name())
}

// holder names who holds one of these lines by now, after a request found it
// busy. It is "" when that is the kernel.
func (h host) holder(at ...place) string {
	for _, p := range at {
		if info, err := h.kernel.Info(p); err == nil && info.used {
			return info.consumer
		}
	}
	return "a program that has let go of it since"
}
