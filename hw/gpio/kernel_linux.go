package gpio

import (
	"bytes"
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Line flags of version 2, from linux/gpio.h (enum gpio_v2_line_flag).
const (
	flagUsed         = 1 << 0
	flagInput        = 1 << 2
	flagOutput       = 1 << 3
	flagBiasPullUp   = 1 << 8
	flagBiasPullDown = 1 << 9
	flagBiasDisabled = 1 << 10
)

var biasFlags = map[Pull]uint64{
	PullUp:   flagBiasPullUp,
	PullDown: flagBiasPullDown,
	PullNone: flagBiasDisabled,
}

func systemKernel() kernel { return chardev{} }

// chardev speaks to /dev/gpiochip* as in
// https://docs.kernel.org/userspace-api/gpio/chardev.html. A chip's file is
// open only during a call that needs it: requested lines live on without it,
// and a chip that went and came back is found again.
type chardev struct{}

func (chardev) Request(r request) (int, error) {
	var fd int
	err := onChip(r.chip, func(chip int) error {
		// On the same descriptor: until it is closed it stays that chip's.
		switch label, _, err := chipInfo(chip); {
		case err != nil:
			return err
		case label != r.label:
			return errGone
		}
		req := lineRequest(r)
		err := ioctl(chip, unix.GPIO_V2_GET_LINE_IOCTL, unsafe.Pointer(&req))
		fd = int(req.Fd)
		return err
	})
	if err != nil {
		return -1, fmt.Errorf("request line %d of %s: %w", r.offsets[0], r.chip, err)
	}
	return fd, nil
}

// Devices are sorted by number.
func (chardev) Devices() ([]string, error) {
	found, err := filepath.Glob("/dev/gpiochip[0-9]*")
	slices.SortFunc(found, func(a, b string) int {
		return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b))
	})
	return found, err
}

func (chardev) Chip(device string) (label string, lines uint32, err error) {
	err = onChip(device, func(chip int) error {
		label, lines, err = chipInfo(chip)
		return err
	})
	if err != nil {
		return "", 0, fmt.Errorf("ask %s for its label: %w", device, err)
	}
	return label, lines, nil
}

func chipInfo(chip int) (label string, lines uint32, err error) {
	var info unix.GPIOChipInfo
	err = ioctl(chip, unix.GPIO_GET_CHIPINFO_IOCTL, unsafe.Pointer(&info))
	return text(info.Label[:]), info.Lines, err
}

func (chardev) Info(at lineID) (lineInfo, error) {
	info := unix.GPIOV2LineInfo{Offset: at.offset}
	err := onChip(at.chip, func(chip int) error {
		return ioctl(chip, unix.GPIO_V2_GET_LINEINFO_IOCTL, unsafe.Pointer(&info))
	})
	if err != nil {
		return lineInfo{}, fmt.Errorf("ask about line %d of %s: %w", at.offset, at.chip, err)
	}
	return lineInfo{name: text(info.Name[:]), used: info.Flags&flagUsed != 0, consumer: text(info.Consumer[:])}, nil
}

// text is what stands before the first zero.
func text(b []byte) string {
	b, _, _ = bytes.Cut(b, []byte{0})
	return string(b)
}

func (chardev) Get(fd, lines int) (uint64, error) {
	v := unix.GPIOV2LineValues{Mask: mask(lines)}
	if err := ioctl(fd, unix.GPIO_V2_LINE_GET_VALUES_IOCTL, unsafe.Pointer(&v)); err != nil {
		return 0, fmt.Errorf("read lines: %w", err)
	}
	return v.Bits, nil
}

func (chardev) Set(fd int, high bool) error {
	v := unix.GPIOV2LineValues{Mask: 1}
	if high {
		v.Bits = 1
	}
	if err := ioctl(fd, unix.GPIO_V2_LINE_SET_VALUES_IOCTL, unsafe.Pointer(&v)); err != nil {
		return fmt.Errorf("write line: %w", err)
	}
	return nil
}

func (chardev) Close(fd int) error { return unix.Close(fd) }

// mask has the lowest n bits set; n is 1 to 64.
func mask(n int) uint64 { return ^uint64(0) >> (64 - n) }

func onChip(path string, do func(fd int) error) error {
	fd, err := unix.Open(path, unix.O_RDONLY|unix.O_CLOEXEC, 0)
	if err != nil {
		return err
	}
	defer unix.Close(fd)
	return do(fd)
}

func ioctl(fd int, call uintptr, arg unsafe.Pointer) error {
	for {
		_, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), call, uintptr(arg))
		switch errno {
		case 0:
			return nil
		case unix.EINTR: // a bus transfer cut by one of the runtime's signals
		default:
			return errno
		}
	}
}

// lineRequest spells r as the kernel wants it.
func lineRequest(r request) unix.GPIOV2LineRequest {
	req := unix.GPIOV2LineRequest{Num_lines: uint32(len(r.offsets))}
	copy(req.Offsets[:], r.offsets)
	copy(req.Consumer[:len(req.Consumer)-1], r.consumer) // a final zero stays
	if r.output {
		setOutput(&req.Config, r.initial)
	} else {
		setInputs(&req.Config, r.pulls)
	}
	return req
}

func setOutput(c *unix.GPIOV2LineConfig, high bool) {
	c.Flags = flagOutput
	var value uint64
	if high {
		value = 1
	}
	addAttr(c, unix.GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES, value, 1)
}

// setInputs gives each pull in use an attribute over its lines; there are
// fewer pulls than the ten attributes that a request can hold.
func setInputs(c *unix.GPIOV2LineConfig, pulls []Pull) {
	c.Flags = flagInput
	for _, pull := range []Pull{PullUp, PullDown, PullNone} {
		var lines uint64
		for i, p := range pulls {
			if p == pull {
				lines |= 1 << i
			}
		}
		if lines != 0 {
			addAttr(c, unix.GPIO_V2_LINE_ATTR_ID_FLAGS, flagInput|biasFlags[pull], lines)
		}
	}
}

// addAttr appends an attribute. The value is a union in the kernel's header;
// x/sys names it after its first member.
func addAttr(c *unix.GPIOV2LineConfig, id uint32, value, lines uint64) {
	c.Attrs[c.Num_attrs] = unix.GPIOV2LineConfigAttribute{
		Attr: unix.GPIOV2LineAttribute{Id: id, Flags: value},
		Mask: lines,
	}
	c.Num_attrs++
}
