package boardtest

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"time"
)

// Write is one write to the GPIO block.
type Write struct {
	At     time.Time // host clock, to the microsecond
	Outer  bool      // by the host, not by a processor of the board
	Offset uint32
	Value  uint32
}

// traced is one line of the emulator's trace of a write to the GPIO block.
var traced = regexp.MustCompile(
	`^\d+@(\d+)\.(\d{6}):memory_region_ops_write cpu (-?\d+) mr 0x[0-9a-f]+ addr (0x[0-9a-f]+) value (0x[0-9a-f]+) size \d+ name 'bcm2835_gpio'$`)

// parseWrite reads one line of the trace; ok is false for a write elsewhere.
// A line that names the GPIO block but cannot be read is an error, since a
// record with holes proves nothing.
func parseWrite(line []byte) (w Write, ok bool, err error) {
	if !bytes.Contains(line, []byte("bcm2835_gpio")) {
		return Write{}, false, nil
	}
	m := traced.FindSubmatch(line)
	if m == nil {
		return Write{}, false, fmt.Errorf("read the register record: line %q", line)
	}
	number := func(i, base, bits int) int64 {
		n, e := strconv.ParseInt(string(m[i]), base, bits)
		if e != nil && err == nil {
			err = fmt.Errorf("read the register record: %w", e)
		}
		return n
	}
	at := time.Unix(number(1, 10, 64), number(2, 10, 64)*int64(time.Microsecond))
	address := number(4, 0, 64)
	if address < gpioBase || address >= gpioBase+0x1000 {
		return Write{}, false, fmt.Errorf("read the register record: address %#x is not in the GPIO block", address)
	}
	w = Write{
		At:     at,
		Outer:  number(3, 10, 32) < 0,
		Offset: uint32(address - gpioBase),
		Value:  uint32(number(5, 0, 64)),
	}
	return w, err == nil, err
}

// ReadWrites reads a whole trace and returns the writes to the GPIO block. A
// last line without an end was cut with the power and is left out.
func ReadWrites(r io.Reader) ([]Write, error) {
	var all []Write
	lines := bufio.NewReader(r)
	for {
		line, err := lines.ReadBytes('\n')
		if errors.Is(err, io.EOF) {
			return all, nil
		}
		if err != nil {
			return nil, fmt.Errorf("read the register record: %w", err)
		}
		w, ok, err := parseWrite(bytes.TrimSuffix(line, []byte("\n")))
		if err != nil {
			return nil, err
		}
		if ok {
			all = append(all, w)
		}
	}
}
