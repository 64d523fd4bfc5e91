//go:build boardtest && linux

// Command init is the first and only program of the emulated board besides
// the daemon under test. It stands in for the service manager, the time
// daemon and a person at the console, and does what the host asks over the
// serial line: one request a line, one reply a line.
package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"sync"

	"golang.org/x/sys/unix"

	"benchtide/deploy/boardtest/console"
)

func main() {
	fmt.Println("init:", run())
	select {} // the kernel panics when its first program ends
}

// run serves the host until it cannot any more.
func run() error {
	if err := mountKernelFiles(); err != nil {
		return err
	}
	tty, err := openSerial("/dev/ttyS1")
	if err != nil {
		return err
	}
	out := &lines{tty: tty}
	service := newService(out)
	out.send(console.Message{Event: "up"})
	requests := bufio.NewReader(tty)
	for {
		line, err := requests.ReadBytes('\n')
		if err != nil {
			return fmt.Errorf("read the serial line: %w", err)
		}
		var r console.Request
		if err := json.Unmarshal(line, &r); err != nil {
			out.send(console.Message{Event: "garbled", Text: string(line)})
			continue
		}
		go func() { out.send(answer(service, r)) }()
	}
}

func answer(s *service, r console.Request) console.Message {
	text, err := do(s, r)
	m := console.Message{ID: r.ID, Text: text}
	if err != nil {
		m.Error = err.Error()
	}
	return m
}

// openSerial opens the line raw: nothing echoed, no length limit on a line.
func openSerial(path string) (*os.File, error) {
	tty, err := os.OpenFile(path, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		return nil, err
	}
	t, err := unix.IoctlGetTermios(int(tty.Fd()), unix.TCGETS)
	if err != nil {
		return nil, fmt.Errorf("read the settings of %s: %w", path, err)
	}
	t.Iflag, t.Oflag, t.Lflag = 0, 0, 0
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	if err := unix.IoctlSetTermios(int(tty.Fd()), unix.TCSETS, t); err != nil {
		return nil, fmt.Errorf("set %s raw: %w", path, err)
	}
	return tty, nil
}

// lines writes whole messages to the serial line, one at a time.
type lines struct {
	mu  sync.Mutex
	tty *os.File
}

func (l *lines) send(m console.Message) {
	b, err := json.Marshal(m)
	if err != nil {
		return // a Message of strings and numbers always encodes
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	_, _ = l.tty.Write(append(b, '\n')) // with the line gone there is nobody to tell
}
