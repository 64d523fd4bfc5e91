//go:build boardtest

package boardtest

import (
	"bufio"
	"fmt"
	"net"
	"strings"
	"sync"
)

// bus speaks to the emulator's test socket: writes on the bus of the board while
// its program runs.
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

// do sends one command, which has to be answered with OK.
func (b *bus) do(format string, args ...any) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	command := fmt.Sprintf(format, args...)
	if _, err := fmt.Fprintln(b.conn, command); err != nil {
		return fmt.Errorf("bus %q: %w", command, err)
	}
	answer, err := b.in.ReadString('\n')
	if err != nil {
		return fmt.Errorf("bus %q: %w", command, err)
	}
	if !strings.HasPrefix(answer, "OK") {
		return fmt.Errorf("bus %q: answered %q", command, answer)
	}
	return nil
}

// setLine puts a level on a line that the board reads.
func (b *bus) setLine(line int, high bool) error {
	offset := uint32(regClear)
	if high {
		offset = regSet
	}
	return b.do("writel %#x %#x", gpioBase+offset+uint32(line/32*4), uint32(1)<<(line%32))
}
