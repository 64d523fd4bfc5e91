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
	"unsafe"

	"golang.org/x/sys/unix"
)

// A line of the kernel's simulated chips is called DEVICE/LINE here, as in
// gpio-sim.0/3.

// high reports the level of a line; one that is gone has none.
func high(line string) (bool, error) {
	var b [1]byte
	err := simulated(line, "value", func(f *os.File) error {
		_, err := f.ReadAt(b[:], 0)
		return err
	})
	return b[0] == '1', err
}

// pull has the resistor of a simulated line go up or down, as a contact does.
func pull(line, way string) error {
	return simulated(line, "pull", func(f *os.File) error {
		_, err := f.WriteAt([]byte("pull-"+way), 0)
		return err
	})
}

// opened are the files of simulated lines, by line and name.
var opened sync.Map

// simulated does something with a file of a simulated line. The number of its chip
// may be another one after it went and came back: then the file is looked for anew.
func simulated(line, file string, do func(*os.File) error) error {
	key := line + "/" + file
	if f, ok := opened.Load(key); ok {
		err := do(f.(*os.File))
		if err == nil {
			return nil
		}
		opened.Delete(key) // others may be using it: the collector closes it
	}
	device, n, _ := strings.Cut(line, "/")
	found, _ := filepath.Glob("/sys/devices/platform/" + device + "/gpiochip*/sim_gpio" + n + "/" + file)
	if len(found) == 0 {
		return fmt.Errorf("%s: %w", line, os.ErrNotExist)
	}
	f, err := os.OpenFile(found[0], os.O_RDWR, 0)
	if errors.Is(err, os.ErrPermission) {
		f, err = os.Open(found[0])
	}
	if err != nil {
		return err
	}
	opened.Store(key, f)
	return do(f)
}

// hold has somebody else hold a simulated line, by its number in the kernel's old
// interface, or let go of it.
func hold(line string, held bool) error {
	device, n, _ := strings.Cut(line, "/")
	found, _ := filepath.Glob("/sys/devices/platform/" + device + "/gpio/gpiochip*/base")
	if len(found) != 1 {
		return fmt.Errorf("%s has %d numbers", device, len(found))
	}
	b, err := os.ReadFile(found[0])
	base, bad := strconv.Atoi(strings.TrimSpace(string(b)))
	offset, worse := strconv.Atoi(n)
	if err := errors.Join(err, bad, worse); err != nil {
		return err
	}
	door := map[bool]string{true: "export", false: "unexport"}[held]
	return write("/sys/class/gpio/"+door, strconv.Itoa(base+offset))
}

// poke sets a register of a chip on a bus behind its driver's back, or of a bus
// without chips what is read there: i2c-1/33/0 255.
func poke(at, value string) error {
	part := strings.Split(at, "/")
	if len(part) != 3 {
		return fmt.Errorf("%q: want BUS/ADDRESS/REGISTER", at)
	}
	address, err := strconv.Atoi(part[1])
	reg, bad := strconv.ParseUint(part[2], 10, 8)
	v, worse := strconv.ParseUint(value, 10, 8)
	if err := errors.Join(err, bad, worse); err != nil {
		return err
	}
	return writeRegister(part[0], address, byte(reg), byte(v))
}

// From linux/i2c-dev.h and linux/i2c.h.
const (
	i2cSlaveForce = 0x0706
	i2cSMBus      = 0x0720
	smbusWrite    = 0
	smbusByteData = 2
)

type smbusCall struct {
	way, command uint8
	size         uint32
	data         *[34]byte
}

func writeRegister(bus string, address int, reg, value byte) error {
	fd, err := unix.Open("/dev/"+bus, unix.O_RDWR|unix.O_CLOEXEC, 0)
	if err != nil {
		return err
	}
	defer unix.Close(fd)
	if err := unix.IoctlSetInt(fd, i2cSlaveForce, address); err != nil {
		return err
	}
	data := [34]byte{value}
	call := smbusCall{smbusWrite, reg, smbusByteData, &data}
	if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), i2cSMBus, uintptr(unsafe.Pointer(&call))); errno != 0 {
		return errno
	}
	return nil
}
