//go:build boardtest

package boardtest

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// Outside is the world around a board: the simulated benches of its site, in
// real time. They follow the relay lines as the record shows them and put the
// switch lines where the water says. It outlives machines, as water does.
type Outside struct {
	relays   []Relay // by output of the site
	switches []wire
	coils    coils

	mu       sync.Mutex // guards the rest
	world    *sim.World
	begun    time.Time
	readings *safety.Readings
	board    *attached // nil while no board has power
	fault    error     // the first thing that went wrong
}

// attached is a board with power.
type attached struct {
	machine *Machine
	record  *tail
	pins    *Pins
	levels  map[int]bool // of the switch lines, as last driven
	stop    chan struct{}
	stopped chan struct{}
}

// wire is a switch on its line.
type wire struct {
	name  string
	line  int
	level func(*safety.Readings) safety.Level
	low   safety.Level // what the water says when the line is low
}

// period is how often the outside looks at relays and water.
const period = 2 * time.Millisecond

// NewOutside builds the world around a board of the site.
func NewOutside(site *config.Site) (*Outside, error) {
	world, err := rehearse.NewWorld(site, time.Now())
	if err != nil {
		return nil, err
	}
	relays, err := relaysOf(site)
	if err != nil {
		return nil, err
	}
	switches, err := wiresOf(site)
	if err != nil {
		return nil, err
	}
	return &Outside{
		relays: relays, switches: switches, coils: newCoils(len(relays)),
		world: world, begun: time.Now(), readings: safety.NewReadings(world.Shape()),
	}, nil
}

func relaysOf(site *config.Site) ([]Relay, error) {
	var all []Relay
	for _, o := range site.Outputs {
		if o.Line.Chip != "" {
			all = append(all, Relay{o.Name, elsewhere, o.EnergiseHigh})
			continue
		}
		line, err := lineNumber(o.Line.Name)
		if err != nil {
			return nil, err
		}
		all = append(all, Relay{o.Name, line, o.EnergiseHigh})
	}
	return all, nil
}

func lineNumber(name string) (int, error) {
	n, err := strconv.Atoi(strings.TrimPrefix(name, "GPIO"))
	if err != nil || n < 0 || n >= lineCount {
		return 0, fmt.Errorf("wire the board: %q is no line of it", name)
	}
	return n, nil
}

func wiresOf(site *config.Site) ([]wire, error) {
	var all []wire
	var failed error
	add := func(name string, s *config.Switch, level func(*safety.Readings) safety.Level) {
		if s == nil {
			return
		}
		line, err := lineNumber(s.Line.Name)
		if s.Pull != config.PullUp {
			err = fmt.Errorf("wire the board: switch %s: only contacts to ground are wired here", name)
		}
		failed = errors.Join(failed, err)
		low := safety.Dry // the closed contact pulls the line low
		if s.Closes {
			low = safety.Wet
		}
		all = append(all, wire{name, line, level, low})
	}
	for i, b := range site.Benches {
		add(b.Name+".full", b.Full, func(r *safety.Readings) safety.Level { return r.Benches[i].Full.Level })
		add(b.Name+".high", b.High, func(r *safety.Readings) safety.Level { return r.Benches[i].High.Level })
	}
	return all, failed
}

// Attach connects a board that has just got power.
func (o *Outside) Attach(m *Machine) {
	a := &attached{
		machine: m, record: &tail{path: m.path("writes.log")}, pins: NewPins(), levels: map[int]bool{},
		stop: make(chan struct{}), stopped: make(chan struct{}),
	}
	o.mu.Lock()
	o.board = a
	o.mu.Unlock()
	go o.follow(a)
}

// Detach is the end of the board's power: every relay falls.
func (o *Outside) Detach() {
	o.mu.Lock()
	a := o.board
	o.board = nil
	o.catchUp()
	o.fail(o.world.Apply(safety.Command{}))
	o.mu.Unlock()
	if a != nil {
		close(a.stop)
		<-a.stopped
	}
}

func (o *Outside) follow(a *attached) {
	defer close(a.stopped)
	for {
		select {
		case <-a.stop:
			return
		case <-a.machine.exited:
			return
		case <-time.After(period):
			o.turn(a)
		}
	}
}

// turn brings the relays to where the board has them, the water to the present
// and the switch lines to where the water has them.
func (o *Outside) turn(a *attached) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.board != a {
		return
	}
	writes, err := a.record.next()
	o.fail(err)
	o.catchUp()
	for _, w := range writes {
		a.pins.Write(w.Offset, w.Value)
		// Each write by itself: a pulse between two of them is one.
		o.fail(o.world.Apply(o.coils.command(func(i int) bool { return o.relays[i].energised(a.pins) })))
	}
	o.drive(a)
}

func (o *Outside) catchUp() { o.world.Advance(time.Since(o.begun)) }

func (o *Outside) drive(a *attached) {
	o.world.Read(o.world.Now(), o.readings)
	for _, w := range o.switches {
		high := w.level(o.readings) != w.low
		if was, known := a.levels[w.line]; known && was == high {
			continue
		}
		if err := a.machine.Bus.setLine(w.line, high); err != nil {
			select {
			case <-a.machine.exited: // the power went in mid-sentence
			default:
				o.fail(err)
			}
			return
		}
		a.levels[w.line] = high
	}
}

func (o *Outside) fail(err error) {
	if o.fault == nil {
		o.fault = err
	}
}

// Do acts on the present world.
func (o *Outside) Do(act func(*sim.World) error) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.catchUp()
	return act(o.world)
}

// Err is the first thing that went wrong outside; a run with one shows nothing.
func (o *Outside) Err() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.fault
}

// tail reads the writes that were added to a growing record.
type tail struct {
	path string
	file *os.File
	rest []byte // of a line that is not whole yet
}

func (t *tail) next() ([]Write, error) {
	if t.file == nil {
		f, err := os.Open(t.path)
		if err != nil {
			return nil, err
		}
		t.file = f
	}
	var all []Write
	buf := make([]byte, 64<<10)
	for {
		n, _ := t.file.Read(buf) // the end of the file is where the next call goes on
		if n == 0 {
			return all, nil
		}
		t.rest = append(t.rest, buf[:n]...)
		for {
			line, rest, whole := bytes.Cut(t.rest, []byte("\n"))
			if !whole {
				break
			}
			t.rest = rest
			w, ok, err := parseWrite(line)
			if err != nil {
				return all, err
			}
			if ok {
				all = append(all, w)
			}
		}
	}
}

// coils mints the commands that carry the relays' state into the simulated
// world, which takes nothing else. Outside the board there is nothing to
// guard: to this guard every relay is one of no consequence.
type coils struct {
	guard    *safety.Guard
	readings *safety.Readings
	want     *safety.Want
}

func newCoils(n int) coils {
	var l safety.Limits
	for range n {
		l.Outputs = append(l.Outputs, safety.OutputLimits{Kind: safety.Other, Enable: -1})
	}
	return coils{safety.New(l, safety.State{}, safety.Now{}, ""), safety.NewReadings(l), safety.NewWant(l)}
}

func (c coils) command(on func(int) bool) safety.Command {
	for i := range c.want.Other {
		c.want.Other[i] = on(i)
	}
	c.guard.Observe(safety.Now{}, c.readings)
	return c.guard.Allow(safety.Now{}, c.want)
}
