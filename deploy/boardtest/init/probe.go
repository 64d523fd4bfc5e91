//go:build boardtest && linux

package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

const tracing = "/sys/kernel/tracing"

// doors are the two functions by which the kernel's driver of the board's chip
// moves an output line, with the numbers of its line and level.
const doors = `p:first bcm2835_gpio_direction_output line=%x1:u32 level=%x2:u32
p:set bcm2835_gpio_set line=%x1:u32 level=%x2:u32
`

// probe has the kernel note starts of programs and moves of output lines. It
// costs the board a trap of about a microsecond a move.
func probe() error {
	if err := unix.Mount("tracefs", tracing, "tracefs", 0, ""); err != nil {
		return fmt.Errorf("mount %s: %w", tracing, err)
	}
	for _, w := range []struct{ file, text string }{
		{"trace_clock", "boot"},
		{"kprobe_events", doors},
		{"events/kprobes/enable", "1"},
		{"events/sched/sched_process_exec/enable", "1"},
		{"tracing_on", "1"},
	} {
		if err := os.WriteFile(filepath.Join(tracing, w.file), []byte(w.text), 0o644); err != nil {
			return fmt.Errorf("probe the lines: %w", err)
		}
	}
	return nil
}

// noted is a line of the kernel's trace: its clock in seconds, the event, and
// what it says.
var noted = regexp.MustCompile(`\s(\d+)\.(\d{6}): (\w+): (.*)$`)

// moves returns what was noted since the last call, and forgets it.
func moves() (string, error) {
	trace := filepath.Join(tracing, "trace")
	f, err := os.Open(trace)
	if err != nil {
		return "", err
	}
	defer f.Close()
	var out strings.Builder
	last := map[string]string{}
	in := bufio.NewScanner(f)
	for in.Scan() {
		m := noted.FindStringSubmatch(in.Text())
		if m == nil {
			continue // the heading
		}
		at, what := m[1]+m[2]+"000", m[4]
		if m[3] == "sched_process_exec" {
			path, _, _ := strings.Cut(strings.TrimPrefix(what, "filename="), " ")
			fmt.Fprintln(&out, at, "start", path)
			continue
		}
		_, what, _ = strings.Cut(what, "line=")
		line, level, _ := strings.Cut(what, " level=")
		if last[line] != level {
			fmt.Fprintln(&out, at, "line", line, level)
		}
		last[line] = level
	}
	if err := in.Err(); err != nil {
		return "", err
	}
	return out.String(), os.WriteFile(trace, nil, 0o644)
}

// The GPIO block of the board's chip, and its registers that put lines high
// and low (BCM2835 ARM Peripherals, Broadcom, February 2012, section 6.1).
const (
	gpioBase = 0x3f200000
	regSet   = 0x1c
	regClear = 0x28
)

// level puts a line that the daemon reads to a level, as the world outside
// does, after a wait, and returns the boot-time clock just before.
func level(args []string) (string, error) {
	if len(args) != 3 {
		return "", errors.New("put a line to a level: want its number, 0 or 1, and ns to wait")
	}
	line, bad := strconv.Atoi(args[0])
	wait, worse := strconv.Atoi(args[2])
	if err := errors.Join(bad, worse); err != nil {
		return "", fmt.Errorf("put a line to a level: %w", err)
	}
	memory, err := os.OpenFile("/dev/mem", os.O_RDWR|os.O_SYNC, 0)
	if err != nil {
		return "", err
	}
	defer memory.Close()
	block, err := unix.Mmap(int(memory.Fd()), gpioBase, os.Getpagesize(), unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
	if err != nil {
		return "", fmt.Errorf("map the GPIO block: %w", err)
	}
	defer func() { _ = unix.Munmap(block) }() // it cannot fail on a whole mapping
	register := regClear
	if args[1] == "1" {
		register = regSet
	}
	word := (*uint32)(unsafe.Pointer(&block[register+line/32*4]))
	time.Sleep(time.Duration(wait))
	var before unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &before); err != nil {
		return "", err
	}
	*word = 1 << (line % 32)
	return strconv.FormatInt(before.Nano(), 10), nil
}
