// Package loop is the shell around the core and its only select loop. One turn
// of it: read the switches, let the guard look at them, ask the controller
// what it wants, ask the guard what is allowed of that, drive the board, and
// hand what happened to the ledger and the sinks. Then it waits until the
// earliest of what guard, controller and board asked for. The same turns serve
// the daemon, the demo, rehearsals and tests; only Clock and Board differ.
package loop

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/hw"
	"benchtide/safety"
)

// Ledger is what the loop needs of storage. None of its methods may wait for
// a disk.
type Ledger interface {
	// Record takes the events of a turn and, when it is not nil, the
	// checkpoint after them. The events are only valid during the call.
	Record(events []controller.Event, cp *Checkpoint)
	// Acknowledged returns the intentions stored since the last call.
	Acknowledged() []Ack
}

// Ack says that the intention of one attempt is on storage.
type Ack struct {
	Flood   int64
	Attempt int
}

// Checkpoint is all that must survive a restart.
type Checkpoint struct {
	Controller controller.State `json:"controller"`
	Guard      safety.State     `json:"guard"`
}

// Sink is told of every turn: metrics, the terminal, messages, the page.
type Sink interface {
	Turn(t *Turn)
}

// Turn is what happened in one turn. It and its Events are only valid during
// the call.
type Turn struct {
	Now      safety.Now
	Delay    time.Duration // how much later than planned the turn came
	Events   []controller.Event
	Allowed  safety.Command    // by the guard
	Command  safety.Command    // in force: nothing when the board did not obey, or the turn came too late
	Names    *controller.Names // what the indices in Events stand for
	Snapshot *Snapshot         // after the turn, published; nil where the loop does not publish
}

// Parts are what a Loop is made of. Sinks and Alive may be empty.
type Parts struct {
	Clock      hw.Clock
	Board      hw.Board
	Guard      *safety.Guard
	Controller *controller.Controller
	Limits     safety.Limits
	Names      controller.Names
	Publish    bool // a snapshot each turn, for whoever looks
	Ledger     Ledger
	Spare      func() *Checkpoint // gives one that the ledger needs no more, to be filled anew, or nil; without it each is a new one
	Forgets    bool               // no program goes on from what this one knew: no checkpoint is made
	Sinks      []Sink
	Boot       string        // identity of this boot, for checkpoints
	DeadMan    bool          // watch the turns from outside: for a board whose clock is real
	Alive      func()        // called after each turn that came in time and reached the board
	Heartbeat  time.Duration // a checkpoint at least this often, so that an outage has a beginning; 0 only at changes
}

// Loop runs a site. Turn and Run are for one goroutine; Do is for any.
type Loop struct {
	Parts
	readings  *safety.Readings
	last      safety.Command
	planned   time.Duration
	beat      time.Duration // when the next checkpoint is due without a change
	turns     int
	deaf      map[int]bool // outputs that did not obey in the last turn
	dog       *deadMan
	wake      chan struct{}
	requests  queue
	stopped   chan struct{}
	events    []controller.Event
	published published
	shown     Turn // to the sinks; here so that a turn without news allocates nothing
}

// New puts the parts together. Nothing is read or driven yet.
func New(p Parts) *Loop {
	l := &Loop{
		Parts:    p,
		readings: safety.NewReadings(p.Limits),
		wake:     make(chan struct{}, 1),
		stopped:  make(chan struct{}),
	}
	l.dog = newDeadMan(p.Board, p.DeadMan)
	return l
}

// Run puts every output off, then takes turns until ctx ends, then puts every
// output off again. An output behind a bus that does not answer keeps no turn from
// being taken: it heals, and is told of until then. It returns nil after a stop by
// ctx. A panic of the core puts every output off before it goes on.
func (l *Loop) Run(ctx context.Context) (err error) {
	defer close(l.stopped)
	defer l.requests.end()
	defer func() {
		if p := recover(); p != nil {
			_ = l.Board.Apply(safety.Command{})
			panic(p)
		}
	}()
	if err := l.Board.Apply(safety.Command{}); l.inPumpCircuit(err) && !behind(err) {
		return fmt.Errorf("put every output off at the start: %w; nothing was switched on", err)
	}
	defer l.dog.rest()
	for {
		next := l.Turn()
		l.dog.watch(next-l.Clock.Now().Mono, l.last.Any())
		if err := l.Clock.Wait(ctx, next, l.wake); err != nil {
			return l.stop()
		}
		l.serve()
	}
}

// stop puts every output off, then settles and records what was under way and
// what stands of the requests that wait.
func (l *Loop) stop() error {
	now := l.Clock.Now()
	l.Guard.Stop(now)
	err := l.Board.Apply(safety.Command{})
	l.serveLast()
	l.Controller.Shutdown(now)
	l.record(now, 0, safety.Command{}, safety.Command{})
	if err != nil {
		return fmt.Errorf("put every output off at the stop: %w; check the relays by hand", err)
	}
	return nil
}

// Turn is one turn. It returns when, on the boot-time clock, the next one is
// wanted.
func (l *Loop) Turn() time.Duration {
	now := l.Clock.Now()
	delay := l.delay(now)
	l.overtaken(now)
	l.Board.Read(now, l.readings)
	view := l.Guard.Observe(now, l.readings)
	l.Controller.Heard(now, l.Guard.TakeEvents())
	want := l.Controller.Step(now, view)
	allowed := l.Guard.Allow(now, want)
	command, able := l.drive(now, allowed)
	l.Controller.Heard(now, l.Guard.TakeEvents())
	l.record(now, delay, allowed, command)
	if able && l.Alive != nil {
		l.Alive()
	}
	return l.plan(now)
}

func (l *Loop) delay(now safety.Now) time.Duration {
	l.turns++
	if l.turns == 1 {
		return 0
	}
	return max(0, now.Mono-l.planned)
}

// drive applies the command and returns the one in force, and whether the
// program does what it can: the board obeyed in time, or what did not is an
// expander, which no restart of the program or its machine brings back. When a
// pump circuit does not obey, everything is put off and the runs end; the next
// turn tries again. Air, a lamp or a buzzer that does not obey is told of, and the
// floods go on.
func (l *Loop) drive(now safety.Now, c safety.Command) (safety.Command, bool) {
	if l.overtaken(now) {
		c = safety.Command{}
	}
	if c.Any() && !l.last.Any() { // what is driven may itself take too long
		l.dog.watch(0, true)
	}
	err := l.Board.Apply(c)
	l.tellOfDeaf(now, err)
	late, deaf := l.overtaken(now), l.inPumpCircuit(err)
	if !late && !deaf {
		return c, true
	}
	if off := l.Board.Apply(safety.Command{}); deaf && off != nil && !errors.Is(off, err) && off.Error() != err.Error() {
		err = errors.Join(err, off)
	}
	if deaf {
		l.Guard.Lost(now, err.Error())
	}
	return safety.Command{}, !late && behind(err)
}

// behind reports whether all that an error is about hangs behind a bus.
func behind(err error) bool {
	outputs, rest := hw.OutputErrors(err)
	return len(rest) == 0 && !slices.ContainsFunc(outputs, func(o *hw.OutputError) bool { return !o.Behind })
}

// overtaken tells the guard when the dead-man has put every output off.
func (l *Loop) overtaken(now safety.Now) bool {
	bit := l.dog.bit()
	if bit {
		l.Guard.Overtaken(now)
	}
	return bit
}

// inPumpCircuit reports whether an error of the board may concern a pump.
func (l *Loop) inPumpCircuit(err error) bool {
	outputs, rest := hw.OutputErrors(err)
	for _, o := range outputs {
		if l.Limits.Outputs[o.Output].Kind != safety.Other {
			return true
		}
	}
	return len(rest) > 0
}

// tellOfDeaf tells once of each output that does not obey, and when all do again.
func (l *Loop) tellOfDeaf(now safety.Now, err error) {
	if err == nil && len(l.deaf) == 0 {
		return
	}
	outputs, _ := hw.OutputErrors(err)
	deaf := make(map[int]bool, len(outputs))
	for _, o := range outputs {
		deaf[o.Output] = true
		if !l.deaf[o.Output] {
			l.Controller.OutputDeaf(now, o.Error(), l.Limits.Outputs[o.Output].Kind != safety.Other)
		}
	}
	if len(deaf) == 0 && len(l.deaf) > 0 {
		l.Controller.OutputsObey(now)
	}
	l.deaf = deaf
}

// record hands the turn to ledger and sinks; c is the command in force.
func (l *Loop) record(now safety.Now, delay time.Duration, allowed, c safety.Command) {
	l.events = append(l.events[:0], l.Controller.TakeEvents()...)
	for i := range l.events {
		switch e := &l.events[i]; e.Kind {
		case controller.FloodEnded:
			l.Guard.FloodEnded(e.Flood.Bench, e.Flood.Outcome == controller.Proven)
		case controller.WaterLost:
			l.Guard.FoundLost(now, e.Bench, e.Text)
		}
	}
	l.noteOutputs(now, c)
	var cp *Checkpoint
	if !l.Forgets && (l.Controller.Dirty() || l.Guard.Dirty() || l.Heartbeat > 0 && now.Mono >= l.beat) {
		cp = l.checkpoint()
		l.beat = now.Mono + l.Heartbeat
	}
	if len(l.events) > 0 || cp != nil {
		l.Ledger.Record(l.events, cp)
	}
	l.shown = Turn{
		Now: now, Delay: delay, Events: l.events, Allowed: allowed, Command: c, Names: &l.Names, Snapshot: l.snapshot(c),
	}
	for _, s := range l.Sinks {
		s.Turn(&l.shown)
	}
	l.published.tell()
}

// checkpoint is all that must survive, as of this turn.
func (l *Loop) checkpoint() *Checkpoint {
	var cp *Checkpoint
	if l.Spare != nil {
		cp = l.Spare()
	}
	if cp == nil {
		cp = &Checkpoint{}
	}
	l.Controller.StateInto(&cp.Controller, l.Boot)
	l.Guard.StateInto(&cp.Guard)
	return cp
}

// noteOutputs adds an event for each output whose command has changed.
func (l *Loop) noteOutputs(now safety.Now, c safety.Command) {
	if c == l.last {
		return
	}
	for i := range l.Limits.Outputs {
		if on := c.On(i); on != l.last.On(i) {
			l.events = append(l.events, controller.Event{Kind: controller.OutputChanged, At: now, Bench: -1, Output: i, On: on})
		}
	}
	l.last = c
}

// plan says when the next turn is wanted: the earliest that guard, controller
// or board asked for, or at once when the ledger acknowledged something.
func (l *Loop) plan(now safety.Now) time.Duration {
	next := min(l.Guard.Next(), l.Controller.Next(), l.Board.NextRead(now.Mono))
	if l.Heartbeat > 0 {
		next = min(next, l.beat)
	}
	for _, a := range l.Ledger.Acknowledged() {
		l.Controller.Recorded(a.Flood, a.Attempt)
		next = now.Mono
	}
	l.planned = max(next, now.Mono)
	l.Guard.Planned(l.planned)
	return l.planned
}

// Wake asks for a turn soon. It never waits and is safe for any goroutine.
func (l *Loop) Wake() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}
