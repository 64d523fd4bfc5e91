//go:build boardtest && linux

package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// expander stands in for a chip of eight lines on an I2C bus: its registers are
// those of a PCA9554 (NXP, PCA9554 data sheet, table 4), and the bus is one that
// the kernel's driver of an evaluation module drives over a serial line, here a
// pair of pseudo terminals. What the kernel, its GPIO library and the daemon do
// is what they do with any such chip.
type expander struct {
	master *os.File

	mu        sync.Mutex
	condition string // "there", "gone": answers that nobody is there, "silent": answers nothing
	registers [4]byte
	moves     []string // NS REGISTER VALUE of each write that changed something
	address   byte
	register  byte
	data      byte
	hex       *byte // takes the digits that come
}

// The registers.
const (
	inputs = iota
	outputs
	inverted
	directions // a one is an input
)

const chipAddress = 0x20

// powerUp has every line an input that is pulled high.
func (e *expander) powerUp() { e.registers = [4]byte{0xff, 0xff, 0, 0xff} }

// theExpander is there once "expander" was asked for.
var theExpander *expander

// newExpander brings up the bus and the chip, whose label is its place there.
func newExpander() (string, error) {
	for _, m := range []struct{ kind, at string }{{"devpts", "/dev/pts"}} {
		if err := os.MkdirAll(m.at, 0o755); err != nil {
			return "", err
		}
		if err := unix.Mount(m.kind, m.at, m.kind, 0, "ptmxmode=666"); err != nil && !errors.Is(err, unix.EBUSY) {
			return "", fmt.Errorf("mount %s: %w", m.at, err)
		}
	}
	master, err := os.OpenFile("/dev/pts/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		return "", err
	}
	e := &expander{master: master, condition: "there"}
	e.powerUp()
	if err := e.attach(); err != nil {
		return "", err
	}
	go e.serve()
	if err := insert("/modules/i2c-taos-evm.ko"); err != nil {
		return "", err
	}
	theExpander = e
	return e.bind()
}

// The line discipline that hands a serial line to the kernel's drivers of serial
// devices, and what its device is (linux/tty.h, linux/serio.h).
const (
	disciplineSerio = 2 // N_MOUSE
	setDevice       = 0x40087101
	deviceTAOS      = 0x34
)

// attach gives the other end of the pair to the kernel. Somebody has to read it
// for as long as the bus lives.
func (e *expander) attach() error {
	n, err := unix.IoctlGetInt(int(e.master.Fd()), unix.TIOCGPTN)
	if err != nil {
		return err
	}
	if err := unix.IoctlSetPointerInt(int(e.master.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		return err
	}
	fd, err := unix.Open(fmt.Sprintf("/dev/pts/%d", n), unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		return err
	}
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return err
	}
	t.Iflag, t.Oflag, t.Lflag = 0, 0, 0
	t.Cflag |= unix.CREAD | unix.CLOCAL
	if err := unix.IoctlSetTermios(fd, unix.TCSETS, t); err != nil {
		return err
	}
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSETD, disciplineSerio); err != nil {
		return fmt.Errorf("give the line to the kernel: %w", err)
	}
	device := uint64(deviceTAOS)
	if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), setDevice, uintptr(unsafe.Pointer(&device))); errno != 0 {
		return fmt.Errorf("say what is on the line: %w", errno)
	}
	go func() {
		_, _ = unix.Read(fd, make([]byte, 1)) // until the end
	}()
	return nil
}

// bind waits for the bus and says which chip is on it.
func (e *expander) bind() (string, error) {
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		buses, _ := filepath.Glob("/sys/bus/i2c/devices/i2c-*")
		for _, bus := range buses {
			name, _ := os.ReadFile(filepath.Join(bus, "name"))
			if !strings.Contains(string(name), "TAOS") {
				continue
			}
			what := fmt.Sprintf("pca9554 %#x", chipAddress)
			if err := os.WriteFile(filepath.Join(bus, "new_device"), []byte(what), 0o200); err != nil {
				return "", fmt.Errorf("bind the expander: %w", err)
			}
			number := strings.TrimPrefix(filepath.Base(bus), "i2c-")
			label := fmt.Sprintf("%s-%04x", number, chipAddress)
			if found, _ := filepath.Glob("/sys/bus/i2c/devices/" + label + "/gpiochip*"); len(found) > 0 {
				return label, nil
			}
			return "", fmt.Errorf("bind the expander: no driver took it")
		}
	}
	return "", errors.New("bring up the bus: it did not come")
}

// serve answers the driver of the bus byte by byte.
func (e *expander) serve() {
	b := make([]byte, 256)
	for {
		n, err := e.master.Read(b)
		if err != nil {
			return
		}
		e.mu.Lock()
		var answer strings.Builder
		for _, c := range b[:n] {
			answer.WriteString(e.take(c))
		}
		e.mu.Unlock()
		if answer.Len() > 0 {
			_, _ = e.master.WriteString(answer.String())
		}
	}
}

// take is what the module answers to one byte.
func (e *expander) take(c byte) string {
	switch {
	case c == 0x12:
		return "TAOS BT EVM\r\n:"
	case c == '-':
		return "\n"
	case c == '@':
		e.address, e.hex = 0, &e.address
	case c == '$':
		e.register, e.hex = 0, &e.register
	case c == '#':
		e.data, e.hex = 0, &e.data
	case c == '<' || c == '>':
		return e.transfer(c == '>')
	default:
		if d, err := strconv.ParseUint(string(c), 16, 8); err == nil && e.hex != nil {
			*e.hex = *e.hex<<4 | byte(d)
		}
	}
	return ""
}

func (e *expander) transfer(write bool) string {
	switch {
	case e.condition == "silent":
		return ""
	case e.condition == "gone" || e.address != chipAddress || int(e.register) >= len(e.registers):
		return "[NAK]"
	case !write:
		return fmt.Sprintf("[x%02X]", e.read(e.register))
	}
	if e.registers[e.register] != e.data && e.register != inputs {
		e.registers[e.register] = e.data
		e.note()
	}
	return "[ACK]"
}

// read shows of an output its level, and of an input its pull.
func (e *expander) read(register byte) byte {
	if register != inputs {
		return e.registers[register]
	}
	return e.levels()
}

func (e *expander) levels() byte {
	return e.registers[outputs] | e.registers[directions]
}

func (e *expander) note() {
	var now unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_BOOTTIME, &now) // it cannot fail
	e.moves = append(e.moves, fmt.Sprintf("%d %08b", now.Nano(), e.levels()))
}

// tell changes what the expander is like: there, gone, silent, or blank: it
// lost its power and is there again. The reply is the boot-time clock.
func (e *expander) tell(condition string) (string, error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	switch condition {
	case "there", "gone", "silent":
		e.condition = condition
	case "blank":
		e.condition = "there"
		e.powerUp()
		e.note()
	default:
		return "", fmt.Errorf("no such condition: %q", condition)
	}
	return stamp()
}

// levelsSince returns each move of a line since the last call, and the levels now.
func (e *expander) levelsSince() string {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.note()
	text := strings.Join(e.moves, "\n")
	e.moves = nil
	return text
}

func doExpander(args []string) (string, error) {
	switch {
	case len(args) == 0:
		return newExpander()
	case theExpander == nil:
		return "", errors.New("there is no expander yet")
	case args[0] == "moves":
		return theExpander.levelsSince(), nil
	}
	return theExpander.tell(args[0])
}
