package gpio

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"

	"benchtide/hw/lines"
	"benchtide/safety"
)

// command forges a Command that energises the given outputs. Only the guard
// can mint one; a test of the board stands in for it.
func command(on ...int) safety.Command {
	var c safety.Command
	bits := (*[safety.MaxOutputs / 64]uint64)(unsafe.Pointer(&c))
	for _, i := range on {
		bits[i/64] |= 1 << (i % 64)
	}
	return c
}

func at(mono time.Duration) safety.Now { return safety.Now{Mono: mono} }

// rig is a machine whose kernel is a fake: the levels of its lines are those
// of gpiotest pins, and its failures are the test's. It records every claim,
// level and release.
type rig struct {
	t    testing.TB
	chip string // of pins added from now on

	mu      sync.Mutex
	chips   map[string]chip
	pins    map[lineID]*gpiotest.Pin
	holders map[lineID]lineInfo
	claims  map[int]request
	nextFD  int
	record  []string
	quiet   bool                               // record nothing
	fail    func(op string, line string) error // nil: nothing fails
	dead    map[string]bool                    // chips behind a bus that nobody is at: writes succeed
	blank   map[*gpiotest.Pin]bool             // lines that are inputs since their chip lost its power
	hang    func(chip string)                  // called before a chip behind a bus is written or read; nil: it is quick
	during  func(line string)                  // called by a write before it is made; nil: writes are quick
}

var _ kernel = (*rig)(nil)

// newRig has lines GPIO0 to GPIO27 on one chip, all low.
func newRig(t testing.TB) *rig {
	r := &rig{t: t, nextFD: 3, chips: map[string]chip{}, dead: map[string]bool{}, blank: map[*gpiotest.Pin]bool{}, pins: map[lineID]*gpiotest.Pin{},
		holders: map[lineID]lineInfo{}, claims: map[int]request{}}
	r.addChip(chip{device: "/dev/gpiochip0", label: "pinctrl-test", address: "3f200000.gpio", own: true})
	for i := range 28 {
		r.addPin(fmt.Sprintf("GPIO%d", i), i)
	}
	return r
}

func (r *rig) addPin(name string, n int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.pins[lineID{r.chip, uint32(n)}] = &gpiotest.Pin{N: name, Num: n}
}

func (r *rig) host() host {
	return host{kernel: r, bus: r.bus, alias: func(string) (int, bool) { return 0, false },
		readFile: func(string) ([]byte, error) { return nil, errors.New("no such sensor") }}
}

func (r *rig) bus(device string) (string, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	c := r.chips[device]
	return c.address, c.own
}

// addChip has the pins added from now on sit on a chip of its own.
func (r *rig) addChip(c chip) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.chip, r.chips[c.device] = c.device, c
}

func (r *rig) Devices() ([]string, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Sorted(maps.Keys(r.chips)), r.failure("devices", "")
}

func (r *rig) Chip(device string) (string, uint32, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	c := r.chips[device]
	for at := range r.pins {
		if at.chip == device {
			c.lines = max(c.lines, at.offset+1)
		}
	}
	return c.label, c.lines, r.failure("chip", c.label)
}

func (r *rig) open(c Config) *Board {
	r.t.Helper()
	b, err := openOn(r.host(), c)
	require.NoError(r.t, err)
	r.t.Cleanup(func() { _ = b.Close() })
	return b
}

func (r *rig) pin(name string) *gpiotest.Pin {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, p := range r.pins {
		if p.N == name {
			return p
		}
	}
	r.t.Fatalf("the rig has no line %s", name)
	return nil
}

func (r *rig) set(name string, high bool) {
	p := r.pin(name)
	r.mu.Lock()
	defer r.mu.Unlock()
	p.L = gpio.Level(high)
}

func (r *rig) high(name string) bool {
	p := r.pin(name)
	r.mu.Lock()
	defer r.mu.Unlock()
	return bool(p.L)
}

// kill has nobody at a chip behind a bus, or somebody again.
func (r *rig) kill(device string, dead bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.dead[device] = dead
}

// took hands over the record and starts a new one.
func (r *rig) took() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	taken := r.record
	r.record = nil
	return taken
}

func (r *rig) note(format string, args ...any) {
	if !r.quiet {
		r.record = append(r.record, fmt.Sprintf(format, args...))
	}
}

func (r *rig) failure(op, line string) error {
	if r.fail == nil {
		return nil
	}
	return r.fail(op, line)
}

func word(high bool) string {
	if high {
		return "high"
	}
	return "low"
}

// pause lets a bus take its time.
func (r *rig) pause(fd int) {
	r.mu.Lock()
	chip, hang := r.claims[fd].chip, r.hang
	own := r.chips[chip].own
	r.mu.Unlock()
	if hang != nil && !own {
		hang(chip)
	}
}

// lost is what a get of a chip answers that is gone or that nobody is at.
func (r *rig) lost(chip string) error {
	if _, there := r.chips[chip]; !there {
		return syscall.ENODEV
	}
	if r.dead[chip] {
		return syscall.EIO
	}
	return nil
}

// unplug takes a chip away, with its lines, and returns what puts it back at
// another number. What was held of it answers ENODEV.
func (r *rig) unplug(device string) (plug func(as string)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	c := r.chips[device]
	delete(r.chips, device)
	pins := map[uint32]*gpiotest.Pin{}
	for at, p := range r.pins {
		if at.chip == device {
			pins[at.offset] = p
			delete(r.pins, at)
			delete(r.holders, at)
		}
	}
	return func(as string) {
		r.mu.Lock()
		defer r.mu.Unlock()
		c.device = as
		r.chips[as] = c
		for offset, p := range pins {
			p.L = gpio.High // by its pull
			r.pins[lineID{as, offset}] = p
		}
	}
}

func (r *rig) Request(q request) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.chips[q.chip].label != q.label {
		return -1, errGone
	}
	for _, offset := range q.offsets {
		at := lineID{q.chip, offset}
		if r.pins[at] == nil {
			return -1, syscall.ENOENT
		}
		if err := r.failure("request", r.pins[at].N); err != nil {
			return -1, err
		}
		if r.holders[at].used {
			return -1, syscall.EBUSY
		}
	}
	for i, offset := range q.offsets {
		at := lineID{q.chip, offset}
		p := r.pins[at]
		if q.output {
			if !r.dead[q.chip] {
				p.L = gpio.Level(q.initial)
				delete(r.blank, p)
			}
			r.note("claim %s %s", p.N, word(q.initial))
		} else {
			_ = p.In([...]gpio.Pull{gpio.PullUp, gpio.PullDown, gpio.Float}[q.pulls[i]], gpio.NoEdge)
			r.note("claim %s", p.N)
		}
		r.holders[at] = lineInfo{used: true, consumer: q.consumer}
	}
	fd := r.nextFD
	r.nextFD++
	r.claims[fd] = q
	return fd, nil
}

func (r *rig) Info(at lineID) (lineInfo, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	p, ok := r.pins[at]
	if !ok {
		return lineInfo{}, nil // a line without a name
	}
	info := r.holders[at]
	info.name = p.N
	return info, r.failure("info", p.N)
}

func (r *rig) Get(fd, lines int) (uint64, error) {
	r.pause(fd)
	r.mu.Lock()
	defer r.mu.Unlock()
	q, ok := r.claims[fd]
	if !ok || lines != len(q.offsets) || q.output && r.chips[q.chip].own {
		r.t.Errorf("descriptor %d was read for %d lines: %+v", fd, lines, q)
	}
	if err := r.lost(q.chip); err != nil {
		return 0, err
	}
	var bits uint64
	for i, offset := range q.offsets {
		p := r.pins[lineID{q.chip, offset}]
		if err := r.failure("get", p.N); err != nil {
			return 0, err
		}
		if p.L {
			bits |= 1 << i
		}
	}
	return bits, nil
}

func (r *rig) Set(fd int, high bool) error {
	r.mu.Lock()
	q, ok := r.claims[fd]
	if !ok || !q.output {
		r.t.Errorf("descriptor %d was written: %+v", fd, q)
	}
	p := r.pins[lineID{q.chip, q.offsets[0]}]
	if p == nil {
		r.mu.Unlock()
		return syscall.ENODEV // its chip went
	}
	during := r.during
	r.mu.Unlock()
	r.pause(fd)
	if during != nil {
		during(p.N)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if err := r.failure("set", p.N); err != nil {
		return err
	}
	if r.dead[q.chip] {
		return nil // as if it had been heard
	}
	if r.blank[p] {
		return nil // an input keeps its pull
	}
	p.L = gpio.Level(high)
	r.note("%s %s", p.N, word(high))
	return nil
}

func (r *rig) Close(fd int) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	q, ok := r.claims[fd]
	if !ok {
		r.t.Errorf("descriptor %d was closed, and is not one of the board's", fd)
	}
	for _, offset := range q.offsets {
		at := lineID{q.chip, offset}
		if r.pins[at] == nil {
			continue // its chip went
		}
		delete(r.holders, at)
		r.note("release %s", r.pins[at].N)
	}
	delete(r.claims, fd)
	if p := r.pins[lineID{q.chip, q.offsets[0]}]; p != nil {
		return r.failure("close", p.N)
	}
	return nil
}

// The outputs of site, by index.
const (
	pump = iota
	air
	enable
	stirrer
)

// site has one bench: a pump that energises on low, an enable relay that
// energises on high and the rest.
func site() Config {
	return Config{
		Outputs: []Output{
			{Name: "flood_pump", Line: lines.Named("GPIO5"), Kind: safety.FloodPump},
			{Name: "air", Line: lines.Named("GPIO13"), EnergiseHigh: true, Kind: safety.Other},
			{Name: "enable", Line: lines.Named("GPIO22"), EnergiseHigh: true, Kind: safety.Enable},
			{Name: "stirrer", Line: lines.Named("GPIO6"), Kind: safety.Stirrer},
		},
		Benches: []Bench{{
			Name: "north",
			Full: Switch{Line: lines.Named("GPIO24"), WaterCloses: true},
			High: Switch{Line: lines.Named("GPIO25")},
		}},
		Reservoirs: []Reservoir{{Name: "tank", Low: Switch{Line: lines.Named("GPIO23"), WaterCloses: true}}},
	}
}

func readings() *safety.Readings {
	return &safety.Readings{Benches: make([]safety.BenchReadings, 1), Reservoirs: make([]safety.ReservoirReadings, 1)}
}
