//go:build boardtest

package boardtest

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"benchtide/deploy/boardtest/console"
)

// bootWithin is ample for a boot on a very busy host; a few seconds are usual.
const bootWithin = 3 * time.Minute

// clock is what the board's clock counts.
type clock bool

const (
	hostTime clock = false // the host's seconds, so that the water outside runs as fast
	counted  clock = true  // a nanosecond an instruction, and idle time skipped, so that the host has no part in it
)

// Machine is one emulated board from power-on to power-off.
type Machine struct {
	Bus *bus

	dir     string
	command *exec.Cmd
	console net.Conn
	exited  chan struct{} // closed when the emulator is gone

	mu       sync.Mutex
	changed  chan struct{} // closed and made anew with each message
	events   []Event
	answers  map[int]console.Message
	lastID   int
	writeTTY sync.Mutex
}

// Event is a message of the board that nobody asked for.
type Event struct {
	At time.Time // host clock
	console.Message
}

// boot powers a board on, with its files in dir and, when card is not empty,
// that SD card image, and returns when its init is up. As soon as the board
// has power it is handed to attach, so that the world outside is there before
// any program is.
func boot(ctx context.Context, k kit, dir, card string, clock clock, attach func(*Machine)) (*Machine, error) {
	m := &Machine{
		dir: dir, exited: make(chan struct{}),
		changed: make(chan struct{}), answers: map[int]console.Message{},
	}
	if err := m.powerOn(k, card, clock); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, bootWithin)
	defer cancel()
	err := m.connect(ctx)
	if err == nil {
		attach(m)
		_, err = m.Await(ctx, 0, "up", "")
	}
	if err != nil {
		m.PowerCut()
		return nil, fmt.Errorf("boot: %w (see %s)", err, dir)
	}
	return m, nil
}

func (m *Machine) powerOn(k kit, card string, clock clock) error {
	kernel := "console=ttyAMA0,115200 panic=-1 rdinit=/init quiet loglevel=0 iomem=relaxed"
	if clock == counted {
		kernel += " isolcpus=1-3"
	}
	args := []string{
		"-M", "raspi3b", "-accel", "tcg,thread=single", "-display", "none", "-no-reboot",
		"-kernel", k.kernel, "-dtb", k.tree, "-initrd", k.initrd,
		"-append", kernel,
		"-serial", "file:kernel.log", // its receiving side belongs to the board's radio
		"-chardev", "socket,id=tty,path=tty.sock,server=on,wait=off,logfile=serial.log",
		"-serial", "chardev:tty",
		"-qtest", "unix:bus.sock,server=on,wait=off", "-qtest-log", "none",
		"-msg", "timestamp=on", "-trace", "memory_region_ops_write", "-D", "writes.log",
	}
	if clock == counted {
		args = append(args, "-icount", "shift=0,sleep=off")
	}
	if card != "" {
		args = append(args, "-drive", "file="+card+",if=sd,format=raw,cache=writethrough")
	}
	m.command = exec.Command("qemu-system-aarch64", args...)
	m.command.Dir = m.dir
	said, err := os.Create(filepath.Join(m.dir, "emulator.log"))
	if err != nil {
		return err
	}
	defer said.Close()
	m.command.Stdout, m.command.Stderr = said, said
	if err := m.command.Start(); err != nil {
		return err
	}
	go func() {
		_ = m.command.Wait() // how it ended is in emulator.log; a power cut is no failure
		close(m.exited)
	}()
	return nil
}

// connect waits for the emulator's sockets.
func (m *Machine) connect(ctx context.Context) error {
	for {
		var err error
		if m.Bus, err = dialBus(m.path("bus.sock")); err == nil {
			if m.console, err = net.Dial("unix", m.path("tty.sock")); err == nil {
				go m.listen()
				return nil
			}
		}
		select {
		case <-ctx.Done():
			return errors.Join(ctx.Err(), err)
		case <-m.exited:
			return errors.New("the emulator ended")
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// path keeps socket names short: the kernel allows about a hundred bytes.
func (m *Machine) path(name string) string { return filepath.Join(m.dir, name) }

// message reads one line of the board. The kernel writes a stray byte to the
// serial line as it looks for its chip, before the first message.
func message(line []byte) (console.Message, bool) {
	var m console.Message
	start := max(0, bytes.IndexByte(line, '{'))
	return m, json.Unmarshal(line[start:], &m) == nil
}

// listen sorts what the board says. serial.log keeps what is no message.
func (m *Machine) listen() {
	in := bufio.NewReader(m.console)
	for {
		line, err := in.ReadBytes('\n')
		if err != nil {
			return
		}
		msg, ok := message(line)
		if !ok {
			continue
		}
		m.mu.Lock()
		if msg.ID != 0 {
			m.answers[msg.ID] = msg
		} else {
			m.events = append(m.events, Event{time.Now(), msg})
		}
		close(m.changed)
		m.changed = make(chan struct{})
		m.mu.Unlock()
	}
}

// Do asks the board for something and returns its answer.
func (m *Machine) Do(ctx context.Context, r console.Request) (string, error) {
	m.mu.Lock()
	m.lastID++
	r.ID = m.lastID
	m.mu.Unlock()
	b, err := json.Marshal(r)
	if err != nil {
		return "", err
	}
	m.writeTTY.Lock()
	_, err = m.console.Write(append(b, '\n'))
	m.writeTTY.Unlock()
	if err != nil {
		return "", fmt.Errorf("ask the board: %w", err)
	}
	var answer console.Message
	err = m.until(ctx, func() (ok bool) { answer, ok = m.answers[r.ID]; return ok })
	if err != nil {
		return "", fmt.Errorf("ask the board to %s: %w", r.Do, err)
	}
	if answer.Error != "" {
		return answer.Text, fmt.Errorf("ask the board to %s: %s: %s", r.Do, answer.Error, answer.Text)
	}
	return answer.Text, nil
}

// Await waits for an event of that name whose text contains text, counting
// from the event with number from, and returns its own number.
func (m *Machine) Await(ctx context.Context, from int, event, text string) (int, error) {
	found := -1
	err := m.until(ctx, func() bool {
		i := slices.IndexFunc(m.events[min(from, len(m.events)):], func(e Event) bool {
			return e.Event == event && strings.Contains(e.Text, text)
		})
		if i >= 0 {
			found = from + i
		}
		return i >= 0
	})
	if err != nil {
		return -1, fmt.Errorf("wait for %s %q: %w", event, text, err)
	}
	return found, nil
}

// until waits for a condition on what the board said.
func (m *Machine) until(ctx context.Context, holds func() bool) error {
	for {
		m.mu.Lock()
		ok, changed := holds(), m.changed
		m.mu.Unlock()
		if ok {
			return nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return ctx.Err()
		case <-m.exited:
			return errors.New("the emulator ended")
		}
	}
}

// Events returns what the board has said so far.
func (m *Machine) Events() []Event {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.events)
}

// PowerCut ends the board at once, as pulling its plug would.
func (m *Machine) PowerCut() {
	_ = m.command.Process.Kill() // it may have ended by itself
	<-m.exited
	if m.Bus != nil {
		_ = m.Bus.conn.Close()
	}
	if m.console != nil {
		_ = m.console.Close()
	}
}

// Writes returns every write to the GPIO block since power-on.
func (m *Machine) Writes() ([]Write, error) {
	f, err := os.Open(m.path("writes.log"))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return ReadWrites(f)
}
