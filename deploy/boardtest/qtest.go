//go:build boardtest

package boardtest

import (
	"bufio"
	"fmt"
	"net"
	"strconv"
	"strings"
	"sync"
)

// bus speaks to the emulator's test socket: reads and writes on the bus of the
// board while its program runs.
type bus struct {
	mu   sync.Mutex
	conn net.Conn
	in   *bufio.Reader
}

func dialBus(path string) (*bus, error) {
	conn, err := net.Dial("unix", path)
	if err != nil {
		return nil, fmt.Errorf("dial the emulator's bus: %w", err)
	}
	return &bus{conn: conn, in: bufio.NewReader(conn)}, nil
}

// ask sends one command and returns the words after OK.
func (b *bus) ask(format string, args ...any) (string, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	command := fmt.Sprintf(format, args...)
	if _, err := fmt.Fprintln(b.conn, command); err != nil {
		return "", fmt.Errorf("bus %q: %w", command, err)
	}
	answer, err := b.in.ReadString('\n')
	if err != nil {
		return "", fmt.Errorf("bus %q: %w", command, err)
	}
	value, ok := strings.CutPrefix(strings.TrimSpace(answer), "OK")
	if !ok {
		return "", fmt.Errorf("bus %q: answered %q", command, answer)
	}
	return strings.TrimSpace(value), nil
}

// register reads a register of the GPIO block.
func (b *bus) register(offset uint32) (uint32, error) {
	answer, err := b.ask("readl %#x", gpioBase+offset)
	if err != nil {
		return 0, err
	}
	value, err := strconv.ParseUint(answer, 0, 64)
	if err != nil {
		return 0, fmt.Errorf("bus: register %#x: %w", offset, err)
	}
	return uint32(value), nil
}

// setLine puts a level on a line that the board reads.
func (b *bus) setLine(line int, high bool) error {
	offset := uint32(regClear)
	if high {
		offset = regSet
	}
	_, err := b.ask("writel %#x %#x", gpioBase+offset+uint32(line/32*4), uint32(1)<<(line%32))
	return err
}
