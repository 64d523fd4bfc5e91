package gpio

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	periph "periph.io/x/host/v3"
	"periph.io/x/host/v3/bcm283x"

	"benchtide/hw/lines"
)

// host is what a board needs of the machine: the kernel that knows its chips
// and claims their lines, where a chip sits, what else a line may be called,
// and the files of its thermometers.
type host struct {
	kernel   kernel
	bus      func(device string) (address string, own bool)
	alias    func(name string) (gpio int, ok bool)
	readFile func(string) ([]byte, error)
}

// thisMachine is the machine as it is, whether it has GPIO or not.
func thisMachine() host {
	return host{
		kernel:   systemKernel(),
		bus:      func(device string) (string, bool) { return busUnder("/sys", device) },
		alias:    periphNumber,
		readFile: os.ReadFile,
	}
}

// systemHost is this machine, refused when it has no GPIO.
func systemHost() (host, error) {
	h := thisMachine()
	chips, err := h.chips()
	if len(chips) > 0 {
		return h, nil // of chips that do not answer the lines are missed by name
	}
	return host{}, noChips("/dev", err)
}

// noChips says why no chip was found among the devices of dev; err is what the
// last of them answered.
func noChips(dev string, err error) error {
	devices, _ := filepath.Glob(filepath.Join(dev, "gpiochip*")) // the pattern is well formed
	switch {
	case len(devices) == 0:
		return &refusal{
			what:  "open the gpio board",
			cause: fmt.Sprintf("this machine has no GPIO (no %s/gpiochip*)", dev),
			fix:   "run on a board with GPIO lines and their kernel driver, or set board: simulated",
		}
	case err == nil:
		err = errors.New("no answer")
	}
	if errors.Is(err, os.ErrPermission) {
		return explain("open the gpio board", err, "")
	}
	return &refusal{
		what:  "open the gpio board",
		cause: fmt.Sprintf("%s did not answer as a GPIO chip: %v", strings.Join(devices, ", "), err),
		fix:   fixKernel,
		err:   err,
	}
}

// periphNumber finds a Raspberry Pi's line by a name that periph has for it
// and the kernel has not, such as SPI0_MOSI or P1_29.
func periphNumber(name string) (int, bool) {
	if _, err := periph.Init(); err != nil {
		return 0, false
	}
	return piNumber(gpioreg.ByName(name))
}

func piNumber(p gpio.PinIO) (int, bool) {
	switch p := p.(type) {
	case gpio.RealPin:
		return piNumber(p.Real())
	case *bcm283x.Pin:
		return p.Number(), true
	}
	return 0, false
}

// survey finds where the wanted lines are, and refuses those that are missing,
// doubled or held by someone else. It touches no line. All refusals are told
// at once; the homes and places answer to wants one by one.
func (h host) survey(wants []want) ([]berth, error) {
	d := h.directory()
	berths := make([]berth, len(wants))
	takenBy := map[lineID]want{}
	var refusals []error
	for i, w := range wants {
		at, err := h.inspect(d, w)
		if err == nil {
			if first, doubled := takenBy[at.lineID]; doubled {
				err = &refusal{
					what:  w.String(),
					cause: fmt.Sprintf("it is the same line as %q of %s", first.line, first.use),
					fix:   "give each its own line",
				}
			}
			takenBy[at.lineID] = w
		}
		berths[i] = at
		refusals = append(refusals, err)
	}
	return berths, errors.Join(refusals...)
}

// berth is where a line was found: its home, and its place for now.
type berth struct {
	home home
	lineID
}

// want is a line and what it is for.
type want struct {
	line   lines.Line
	use    string
	enable bool // of an enable relay
}

func (w want) String() string { return fmt.Sprintf("claim line %q for %s", w.line, w.use) }

func (h host) inspect(d directory, w want) (berth, error) {
	found, refused := d.find(w.line)
	if refused != nil {
		refused.what = w.String()
		return berth{}, refused
	}
	at := berth{d.home(found), found.lineID()}
	if w.enable && !found.chip.own {
		return at, &refusal{
			what:  w.String(),
			cause: fmt.Sprintf("chip %q is behind a bus: %s", found.chip.label, lines.NoEnable),
			fix:   "wire it to a line of the processor itself; benchtide lines shows which those are",
		}
	}
	info, err := h.kernel.Info(at.lineID)
	if err != nil {
		return at, explain(w.String(), err, "")
	}
	if info.used {
		return at, busy(w.String(), info.consumer, nil)
	}
	return at, nil
}

// holder names who holds one of these lines by now, after a request found it
// busy. It is "" when that is the kernel.
func (h host) holder(at ...lineID) string {
	for _, p := range at {
		if info, err := h.kernel.Info(p); err == nil && info.used {
			return info.consumer
		}
	}
	return "a program that has let go of it since"
}

// errGone says that a chip is not there.
var errGone = fmt.Errorf("it is gone: %w", syscall.ENODEV)
