//go:build watchdogtest

package watchdogtest

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/boardtest/console"
)

// event is what the machine's first program or the emulator tells unasked.
type event struct {
	at time.Time // host clock
	console.Message
}

// machine is an emulated PC with a watchdog and a disk.
type machine struct {
	t        *testing.T
	serial   io.Writer
	heard    chan event
	events   []event
	lastID   int
	emulator *emulator
}

// clock is what a machine's clock counts.
type clock struct {
	emulator []string
	kernel   string
}

var (
	// counted is a nanosecond an instruction, and idle time skipped, so that the host
	// has no part in what takes how long. Only the processor's own clock is cheap to
	// read there.
	counted = clock{[]string{"-icount", "shift=0,sleep=off", "-rtc", "base=2026-03-10T08:00:00,clock=vm"}, " tsc=reliable clocksource=tsc"}

	// hostTime is the host's.
	hostTime = clock{[]string{"-rtc", "base=2026-03-10T09:00:00"}, " no_timer_check"} // a busy host is late with timers
)

// powerOn starts the emulator on an empty disk.
func powerOn(t *testing.T, clock clock) *machine {
	dir := t.TempDir()
	disk := filepath.Join(dir, "disk.img")
	require.NoError(t, os.WriteFile(disk, nil, 0o600))
	require.NoError(t, os.Truncate(disk, 64<<20))
	out, err := exec.Command("mkfs.ext4", "-q", disk).CombinedOutput()
	require.NoError(t, err, "%s", out)

	cmd := exec.Command("qemu-system-x86_64", append(clock.emulator,
		"-M", "q35", "-accel", "tcg", "-smp", "1", "-m", "512", "-nodefaults", "-display", "none",
		"-device", "i6300esb", "-action", "watchdog=reset",
		"-kernel", os.Getenv("WATCHDOGTEST_KERNEL"), "-initrd", os.Getenv("WATCHDOGTEST_INITRD"),
		"-append", "console=ttyS0 panic=-1 rdinit=/init quiet"+clock.kernel,
		"-drive", "file="+disk+",if=virtio,format=raw,cache=writethrough",
		"-serial", "file:kernel.log", "-serial", "stdio",
		"-qmp", "unix:qmp.sock,server=on,wait=off")...)
	cmd.Dir, cmd.Stderr = dir, os.Stderr
	m := &machine{t: t, heard: make(chan event)}
	m.serial, err = cmd.StdinPipe()
	require.NoError(t, err)
	serial, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // as pulling its plug would
		for range m.heard {    // until the serial line is at its end
		}
		_ = cmd.Wait() // killed
		m.explain(dir)
	})
	go m.hear(serial)
	m.emulator = dial(t, filepath.Join(dir, "qmp.sock"))
	return m
}

// explain shows what was heard of a machine whose test has failed.
func (m *machine) explain(dir string) {
	if !m.t.Failed() {
		return
	}
	for _, e := range m.events {
		m.t.Log(e.at.Format(time.TimeOnly), e.Event, e.Text)
	}
	kernel, err := os.ReadFile(filepath.Join(dir, "kernel.log"))
	m.t.Logf("kernel: %s %v", kernel, err)
}

// hear reads the serial line to its end. The firmware and the kernel may write
// to it before the first message.
func (m *machine) hear(serial io.Reader) {
	defer close(m.heard)
	for lines := bufio.NewScanner(serial); lines.Scan(); {
		var e event
		start := max(0, bytes.IndexByte(lines.Bytes(), '{'))
		if json.Unmarshal(lines.Bytes()[start:], &e.Message) == nil {
			e.at = time.Now()
			m.heard <- e
		}
	}
}

// until listens until found, which sees each event from number from on, is
// satisfied, and returns the number of that event.
func (m *machine) until(what string, from int, within time.Duration, found func(event) bool) int {
	m.t.Helper()
	late := time.After(within)
	for i := from; ; i++ {
		for i >= len(m.events) {
			select {
			case e, ok := <-m.heard:
				require.True(m.t, ok, "the emulator ended before %s", what)
				m.events = append(m.events, e)
			case <-late:
				require.FailNow(m.t, "no "+what, "within %v", within)
			}
		}
		if found(m.events[i]) {
			return i
		}
	}
}

// await listens for an event whose text contains text.
func (m *machine) await(from int, within time.Duration, name, text string) int {
	m.t.Helper()
	return m.until(name+" "+text, from, within, func(e event) bool {
		return e.Event == name && strings.Contains(e.Text, text)
	})
}

// ask has the machine do something; its answer may be that it could not.
func (m *machine) ask(r console.Request) (string, string) {
	m.t.Helper()
	return m.request(r)()
}

// request has the machine begin something, and returns what waits for the answer.
func (m *machine) request(r console.Request) (answer func() (string, string)) {
	m.t.Helper()
	m.lastID++
	r.ID = m.lastID
	from := len(m.events)
	b, err := json.Marshal(r)
	require.NoError(m.t, err)
	_, err = m.serial.Write(append(b, '\n'))
	require.NoError(m.t, err)
	return func() (string, string) {
		m.t.Helper()
		i := m.until("answer to "+r.Do, from, 3*within, func(e event) bool { return e.ID == r.ID })
		return m.events[i].Text, m.events[i].Error
	}
}

// do has the machine do something that it can.
func (m *machine) do(r console.Request) string {
	m.t.Helper()
	text, failed := m.ask(r)
	require.Empty(m.t, failed, "%s %v: %s", r.Do, r.Args, text)
	return text
}

// emulator tells what happens to the machine, in the emulator's own words (the
// QEMU Machine Protocol, docs/interop/qmp-spec in QEMU's sources).
type emulator struct {
	t    *testing.T
	conn net.Conn
	said *json.Decoder
}

func dial(t *testing.T, path string) *emulator {
	var conn net.Conn
	require.Eventually(t, func() (ok bool) {
		c, err := net.Dial("unix", path)
		conn = c
		return err == nil
	}, 20*time.Second, 10*time.Millisecond, "the emulator's socket")
	t.Cleanup(func() { _ = conn.Close() })
	_, err := conn.Write([]byte(`{"execute": "qmp_capabilities"}`))
	require.NoError(t, err)
	return &emulator{t, conn, json.NewDecoder(conn)}
}

// await reads up to the next event of that name and returns when it happened
// and what came with it.
func (e *emulator) await(name string, within time.Duration) (time.Time, map[string]any) {
	e.t.Helper()
	require.NoError(e.t, e.conn.SetReadDeadline(time.Now().Add(within)))
	for {
		var said struct {
			Event     string
			Data      map[string]any
			Timestamp struct{ Seconds, Microseconds int64 }
		}
		require.NoError(e.t, e.said.Decode(&said), "no %s", name)
		if said.Event == name {
			at := said.Timestamp
			return time.Unix(at.Seconds, at.Microseconds*1000), said.Data
		}
	}
}
