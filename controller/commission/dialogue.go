package commission

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/hw"
	"benchtide/safety"
)

// Options are what a dialogue is held with.
type Options struct {
	Site   *config.Site // as the file says
	Person Person
	Hands  Hands // nil at a real board
	Record Record
	Log    io.Writer // takes questions and answers, in the form that a Script reads; nil for none

	Setup      func(*config.Site) (controller.Setup, error)
	Clock      hw.Clock
	Board      hw.Board
	Ledger     loop.Ledger
	Sinks      []loop.Sink
	Checkpoint *loop.Checkpoint // what an earlier program left; nil when there was none
	Boot       string
	DeadMan    bool
}

// The ways in which a dialogue ends early. Everything is off then.
var (
	ErrStopped = errors.New("stopped")                                            // by the person or the program
	ErrFailed  = errors.New("the check failed")                                   // something is not as it has to be
	errLate    = errors.New("nothing has happened for a while")                   // of until
	errOver    = errors.New("the dialogue with the person has ended or restarts") // ends a loop
)

// dialogue is one talk with a person, held between the turns of a loop.
type dialogue struct {
	Options
	site    *config.Site // with what was measured so far
	loop    *loop.Loop
	status  controller.Status
	resume  func() (time.Duration, bool)
	yield   func(time.Duration) bool
	restart bool // the loop ends, and another begins with the site's present limits

	answers []Answer
	handsIn bool               // given by this dialogue
	stopped time.Duration      // boot-time clock when a pump last stopped
	ended   time.Duration      // when a flood last ended
	last    []controller.Flood // that have ended
	changed string             // the switch that changed last
	trips   []safety.Interlock // those that acted in the latest flood
	pending *awaitedData       // what the last program ended for, until it is taken up
	lost    Act                // what has ended this program, at a simulated board
	stored  *loop.Checkpoint   // the newest that went to the ledger
	wet     bool               // the person has plugged the pumps in
	dry     bool               // or unplugged them
}

// Answer is one question and what was answered.
type Answer struct {
	Question string `json:"question"`
	Answer   string `json:"answer"`
}

// hold keeps a loop running for as long as talk goes on, then puts everything
// off. It returns what talk or the loop returned.
func (d *dialogue) hold(ctx context.Context, talk func() error) error {
	said := ErrStopped
	next, stop := iter.Pull(func(yield func(time.Duration) bool) {
		d.yield = yield
		said = talk()
	})
	defer stop()
	d.resume, d.stored = next, d.Checkpoint
	for d.restart = true; d.restart; {
		d.restart = false
		if err := d.build(); err != nil {
			return err
		}
		err := d.loop.Run(ctx)
		if d.lost != "" {
			return err
		}
		d.Checkpoint = &loop.Checkpoint{Controller: d.loop.Controller.State(d.Boot), Guard: d.loop.Guard.State()}
		if err != nil {
			return err
		}
	}
	stop()
	return said
}

// build puts a loop together for the limits of the present site.
func (d *dialogue) build() error {
	setup, err := d.Setup(d.site)
	if err != nil {
		return err
	}
	setup.Unattended = "the bench is being commissioned"
	setup.AlwaysOn, setup.DayOutputs = nil, nil // so that each of them can click
	now, guard := d.Clock.Now(), safety.State{}
	var c *controller.Controller
	if cp := d.Checkpoint; cp != nil {
		guard = cp.Guard
		c, err = controller.Resume(setup, now, cp.Controller, d.Boot)
	} else {
		c, err = controller.New(setup, now)
	}
	if err != nil {
		return err
	}
	d.loop = loop.New(loop.Parts{
		Clock: pausing{d.Clock, d}, Board: d.Board, Guard: safety.New(setup.Limits, guard, now, d.Boot), Controller: c,
		Limits: setup.Limits, Ledger: mortal{d.Ledger, d}, Sinks: append([]loop.Sink{d}, d.Sinks...), Boot: d.Boot, DeadMan: d.DeadMan,
	})
	return nil
}

// pausing is a clock in whose waits the dialogue goes on.
type pausing struct {
	hw.Clock
	d *dialogue
}

func (p pausing) Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	at, more := p.d.resume()
	if !more || p.d.restart || p.d.lost != "" {
		return errOver
	}
	return p.Clock.Wait(ctx, min(until, at), wake)
}

// mortal is a ledger that hears nothing of a program that has ended.
type mortal struct {
	loop.Ledger
	d *dialogue
}

func (m mortal) Record(events []controller.Event, cp *loop.Checkpoint) {
	if m.d.lost != "" {
		return
	}
	if cp != nil {
		m.d.stored = cp
	}
	m.Ledger.Record(events, cp)
}

// Turn notes and shows what happened in a turn.
func (d *dialogue) Turn(t *loop.Turn) {
	if d.lost != "" {
		return
	}
	for i := range t.Events {
		switch e := &t.Events[i]; e.Kind {
		case controller.PumpStopped:
			d.stopped = t.Now.Mono
		case controller.FloodEnded:
			d.ended, d.last = t.Now.Mono, append(d.last, e.Flood)
		case controller.MessageSent:
			d.say("  ! %s", e.Message.Text)
		case controller.GuardActed:
			d.noteGuard(&e.Guard)
		}
	}
}

func (d *dialogue) noteGuard(e *safety.Event) {
	switch {
	case e.Kind == safety.Tripped:
		d.trips = append(d.trips, e.Interlock)
	case e.Kind != safety.SwitchChanged && e.Kind != safety.ProofTested:
	case e.Switch == "low":
		d.changed = d.site.Reservoirs[e.Reservoir].Name + ".low"
	case e.Switch == "level":
		d.changed = d.site.Reservoirs[e.Reservoir].Name + ".level"
	case e.Bench >= 0:
		d.changed = d.site.Benches[e.Bench].Name + "." + e.Switch
	default:
		d.changed = e.Switch
	}
}

// startAgain ends the loop, everything off, and goes on with another that has
// the limits of the present site.
func (d *dialogue) startAgain() error {
	d.restart = true
	return d.turn()
}

func (d *dialogue) now() time.Duration { return d.Clock.Now().Mono }

// turn lets the loop take a turn.
func (d *dialogue) turn() error {
	if !d.yield(d.now()) {
		return ErrStopped
	}
	d.loop.Controller.StatusInto(&d.status)
	return nil
}

// How often the dialogue looks, beside the turns that the bench asks for itself:
// at a person, who expects an answer, and at what only time changes.
const (
	personEvery = 250 * time.Millisecond
	benchEvery  = 5 * time.Second
)

// forever is no limit.
const forever = time.Duration(math.MaxInt64)

// until lets turns go by until done says so, for limit at most; then it gives
// errLate.
func (d *dialogue) until(limit time.Duration, done func() bool) error {
	return d.look(benchEvery, limit, done)
}

func (d *dialogue) look(every, limit time.Duration, done func() bool) error {
	by := forever
	if limit < forever {
		by = d.now() + limit
	}
	for {
		d.loop.Controller.StatusInto(&d.status)
		now := d.now()
		switch {
		case done():
			return nil
		case now >= by:
			return errLate
		case !d.yield(min(by, now+every)):
			return ErrStopped
		}
	}
}

func (d *dialogue) pass(for_ time.Duration) error {
	if err := d.until(for_, func() bool { return false }); !errors.Is(err, errLate) {
		return err
	}
	return nil
}

// act does something to guard or controller, and takes a turn with it.
func (d *dialogue) act(f func(loop.Core) error) error {
	if err := d.loop.Act(f); err != nil {
		return err
	}
	return d.turn()
}

func (d *dialogue) say(format string, args ...any) { d.Person.Say(fmt.Sprintf(format, args...)) }

// ask puts a question and lets the bench go on until it is answered. The
// answer "stop" ends the dialogue at any question.
func (d *dialogue) ask(format string, args ...any) (string, error) {
	return d.askBeside(nil, format, args...)
}

// What goes on beside a question: how often, and for how many times at most, so
// that no relay clicks through a night.
const (
	besideEvery = 2 * time.Second
	besideMost  = 100
)

// askBeside puts a question, and does something again and again until it is
// answered; nil for nothing.
func (d *dialogue) askBeside(beside func() error, format string, args ...any) (string, error) {
	question, asked := fmt.Sprintf(format, args...), d.now()
	d.Person.Ask(question)
	var text string
	var failed error
	answered := func() (ok bool) {
		text, ok, failed = d.Person.Answer(d.now())
		return ok || failed != nil
	}
	err := errLate
	for n := 0; errors.Is(err, errLate); n++ {
		if beside == nil || n == besideMost {
			err = d.look(personEvery, forever, answered)
		} else if err = d.look(personEvery, besideEvery, answered); errors.Is(err, errLate) {
			err = cmp.Or(beside(), errLate)
		}
	}
	if err = errors.Join(err, failed); err != nil {
		return "", err
	}
	text = strings.TrimSpace(text)
	d.note(question, text, d.now()-asked)
	if strings.EqualFold(text, "stop") {
		return "", ErrStopped
	}
	return text, nil
}

// note keeps an answer with the step it belongs to, and in the log.
func (d *dialogue) note(question, answer string, took time.Duration) {
	d.answers = append(d.answers, Answer{question, answer})
	if d.Log == nil {
		return
	}
	if took = took.Round(time.Second); took > 0 || answer == "" { // an empty line is no answer to a Script
		answer = fmt.Sprintf("[%d s] %s", int(took.Seconds()), answer)
	}
	fmt.Fprintf(d.Log, "# %s\n%s\n", question, answer)
}

// choose asks until the answer is one of the options.
func (d *dialogue) choose(question string, options ...string) (string, error) {
	return d.chooseBeside(nil, question, options...)
}

func (d *dialogue) chooseBeside(beside func() error, question string, options ...string) (string, error) {
	for {
		text, err := d.askBeside(beside, "%s (%s)", question, strings.Join(options, ", "))
		if err != nil {
			return "", err
		}
		if text = strings.ToLower(text); slices.Contains(options, text) {
			return text, nil
		}
		d.say("  Write one of %s, or stop.", strings.Join(options, ", "))
	}
}

// confirm asks for a yes; a no fails the check, with what to do.
func (d *dialogue) confirm(question, remedy string) error {
	answer, err := d.choose(question, "yes", "no")
	if err == nil && answer == "no" {
		err = fmt.Errorf("%w: %s", ErrFailed, remedy)
	}
	return err
}

// giveHandsIn keeps every pump off while a person works at the bench, or ends
// that, also when an earlier program was left under hands-in.
func (d *dialogue) giveHandsIn(on bool) error {
	if d.handsIn == on && d.status.HandsIn == on {
		return nil
	}
	d.handsIn = on
	return d.act(func(c loop.Core) error {
		c.Guard.SetHandsIn(c.Now, on)
		return nil
	})
}
