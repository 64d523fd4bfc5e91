package rehearse

import (
	"fmt"
	"math"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/hw/sim"
	"benchtide/safety"
	"benchtide/schedule"
)

// checker watches the project's invariants from outside, with nothing but the
// limits, the commands, the raw switches and the floods' events. Its numbers
// are those of the invariants in package safety.
type checker struct {
	limits   safety.Limits
	calendar *schedule.Calendar
	from, to schedule.Civil
	board    *observer
	local    func() string
	benches  []watch
	reached  schedule.Civil // how far the program saw trusted wall time come
	forgot   bool           // a restart lost what broken storage had not kept
	welds    *welds
	harm     *harm // nil where more than one thing goes wrong
	broken   []string
	told     map[string]bool
}

// watch is what the checker knows of one bench.
type watch struct {
	on      bool // the pump circuit is commanded closed
	since   time.Duration
	off     time.Duration // when it last opened
	ran     bool
	grace   time.Duration // time in this run in which no turn could come
	running bool          // a flood's pump has been announced
	open    bool          // a flood has started and not ended
	flood   controller.Flood
	latched bool
	begins  bool // a flood's pump was announced in this turn,
	amiss   bool // while the bench was latched
}

// promptly is the control period within which a turn acts.
const promptly = 10 * time.Millisecond

func newChecker(s controller.Setup, from, to schedule.Civil, board *observer, local func() string) *checker {
	c := &checker{
		limits: s.Limits, calendar: s.Calendar, from: from, to: to, board: board, local: local,
		benches: make([]watch, len(s.Limits.Benches)), told: map[string]bool{},
	}
	c.welds = newWelds(c)
	return c
}

// breaks notes a broken invariant, each kind once for a bench and flood.
func (c *checker) breaks(invariant, bench int, format string, args ...any) {
	place := "site"
	if bench >= 0 {
		place = c.limits.Benches[bench].Name
	}
	text := fmt.Sprintf("invariant %d: %s: ", invariant, place) + fmt.Sprintf(format, args...)
	if !c.told[text] {
		c.told[text] = true
		c.broken = append(c.broken, c.local()+" "+text)
	}
}

// Turn looks at one turn, after the board was driven.
func (c *checker) Turn(t *loop.Turn) {
	c.checkDrive(t)
	for i := range t.Events {
		c.event(&t.Events[i])
	}
	for b := range c.benches {
		c.checkHigh(b, t.Command)
		c.checkRun(b, t)
		c.benches[b].begins = false
	}
	c.checkReservoirs()
	c.checkAnswers(t.Command)
	c.welds.Turn(t)
	c.harm.Turn(t)
	if t.Now.Trusted {
		c.reached = max(c.reached, c.calendar.Civil(t.Now.Wall))
	}
}

// checkDrive holds the board to the one command of the turn.
func (c *checker) checkDrive(t *loop.Turn) {
	allowed := 0
	if t.Allowed.Any() {
		allowed = 1
	}
	if c.board.drives > allowed || c.board.applied.Any() && c.board.applied != t.Allowed {
		c.breaks(1, -1, "the board was driven to what the guard did not allow in this turn")
	}
	c.board.drives = 0
}

func (c *checker) event(e *controller.Event) {
	switch e.Kind {
	case controller.PumpStarted:
		b := &c.benches[e.Bench]
		b.running, b.open, b.flood = true, true, e.Flood
		b.begins, b.amiss = true, b.latched
		c.checkAlone(e.Bench)
	case controller.FullMade:
		c.benches[e.Bench].flood = e.Flood
	case controller.PumpStopped:
		c.benches[e.Bench].running = false
	case controller.FloodEnded, controller.FloodRetry, controller.FloodRefused: // refused where the guard did not follow its start
		b := &c.benches[e.Bench]
		if b.flood.ID == e.Flood.ID {
			b.running, b.open = false, false
		}
	case controller.GuardActed:
		c.latch(&e.Guard)
		c.welds.event(&e.Guard)
	}
}

func (c *checker) latch(e *safety.Event) {
	switch {
	case e.Bench < 0:
	case e.Kind == safety.LatchedEvent:
		c.benches[e.Bench].latched = true
	case e.Kind == safety.ResetEvent:
		c.benches[e.Bench].latched = false
	}
}

// checkAlone finds a flood that starts while another of its reservoir has not
// ended.
func (c *checker) checkAlone(bench int) {
	for other := range c.benches {
		if other != bench && c.benches[other].open && c.limits.Benches[other].Reservoir == c.limits.Benches[bench].Reservoir {
			c.breaks(6, bench, "flood %d started while flood %d of %s had not ended", c.benches[bench].flood.ID, c.benches[other].flood.ID, c.limits.Benches[other].Name)
		}
	}
}

// checkReservoirs finds two flood pumps that really run on one reservoir. One
// behind a welded contact runs whenever its enable relay closes, and is no flood.
func (c *checker) checkReservoirs() {
	for b := range c.benches {
		for other := range b {
			one, two := &c.limits.Benches[b], &c.limits.Benches[other]
			if one.Reservoir == two.Reservoir && c.floods(one.Pump) && c.floods(two.Pump) {
				c.breaks(6, b, "its pump ran together with that of %s", two.Name)
			}
		}
	}
}

// checkAnswers finds an enable relay that is closed although a pump in series
// with it does not answer.
func (c *checker) checkAnswers(command safety.Command) {
	for i := range c.limits.Outputs {
		o := &c.limits.Outputs[i]
		if o.Kind != safety.Other && o.Enable >= 0 && command.On(o.Enable) && !c.board.Answers(i) {
			c.breaks(11, -1, "%s was closed while %s did not answer", c.limits.Outputs[o.Enable].Name, o.Name)
		}
	}
}

func (c *checker) floods(pump int) bool {
	return c.board.Running(pump) && !c.board.Outputs[pump].Stuck
}

// closed reports whether bench b's pump circuit is commanded closed.
func (c *checker) closed(b int, command safety.Command) bool {
	pump := c.limits.Benches[b].Pump
	enable := c.limits.Outputs[pump].Enable
	return command.On(pump) && (enable < 0 || command.On(enable))
}

// checkHigh looks at the raw HIGH of the turn: every pump circuit behind its
// enable relay has to be open.
func (c *checker) checkHigh(high int, command safety.Command) {
	if level := c.board.readings.Benches[high].High.Level; level != safety.Wet && level != safety.Fault {
		return
	}
	enable := c.limits.Outputs[c.limits.Benches[high].Pump].Enable
	for b := range c.benches {
		behind := b == high || enable >= 0 && c.limits.Outputs[c.limits.Benches[b].Pump].Enable == enable
		if behind && c.closed(b, command) {
			c.breaks(4, b, "its pump was on in a turn in which HIGH of %s showed water", c.limits.Benches[high].Name)
		}
	}
}

// checkRun follows the pump circuit of bench b.
func (c *checker) checkRun(b int, t *loop.Turn) {
	w, now, closed := &c.benches[b], c.board.Elapsed(), c.closed(b, t.Command)
	if w.on && t.Delay > promptly {
		w.grace += min(t.Delay, watchdog)
	}
	if w.on {
		c.checkLength(b, now)
	}
	switch {
	case closed && !w.on:
		c.checkStart(b, now)
		w.on, w.since, w.grace, w.ran = true, now, 0, true
	case !closed && w.on:
		w.on, w.off = false, now
	}
}

// checkStart looks at the moment at which a pump circuit closes. A board that
// does not obey the start of a flood latches its bench after that, in the same
// turn.
func (c *checker) checkStart(b int, now time.Duration) {
	w, l := &c.benches[b], &c.limits.Benches[b]
	if !w.running {
		c.breaks(1, b, "its pump started without a flood")
	}
	latched := w.latched
	if w.begins {
		latched = w.amiss
	}
	if latched && !c.forgot {
		c.breaks(5, b, "its pump started while the bench was latched")
	}
	if rest := c.rest(l); w.ran && now-w.off < rest-promptly {
		c.breaks(10, b, "its pump started %s after it stopped; it has to rest for %s", now-w.off, rest)
	}
}

// rest is how long a pump is to be off between runs. A program that has
// forgotten the last run still takes the table for full until Drain has passed.
func (c *checker) rest(l *safety.BenchLimits) time.Duration {
	if c.forgot {
		return l.Drain
	}
	return l.Drain + safety.RestMargin
}

// checkLength holds a run to its limit.
func (c *checker) checkLength(b int, now time.Duration) {
	w := &c.benches[b]
	if ran := now - w.since; ran > c.longest(b)+w.grace+promptly {
		c.breaks(3, b, "flood %d pumped for %s; its limit is %s", w.flood.ID, ran, c.longest(b))
	}
}

// longest is the most that the present run of bench b may last.
func (c *checker) longest(b int) time.Duration {
	l, f := &c.limits.Benches[b], &c.benches[b].flood
	if most := l.MaxRun(f.Hold); l.High || !l.Full || f.Fill == 0 {
		return most
	} else {
		return min(most, f.Fill+l.Over)
	}
}

// lost says that the program ended without a turn, late when its next one was
// overdue for so long: its outputs fell. With storage that had failed, what it
// did not keep is forgotten from now on.
func (c *checker) lost(late time.Duration, forgot bool) {
	now := c.board.Elapsed()
	c.forgot = c.forgot || forgot
	for b := range c.benches {
		w := &c.benches[b]
		if w.on {
			w.grace += min(late, watchdog)
			c.checkLength(b, now)
			w.on, w.off = false, now
		}
		w.running, w.open = false, false
	}
}

// waterError is how many litres the books may be out by for each litre moved.
const waterError = 1e-6

// finish looks at the whole and returns all that was broken.
func (c *checker) finish(floods []controller.Flood, truth sim.Truth) []string {
	moved := truth.Totals.Moved + truth.Totals.ToppedUp
	if !(math.Abs(truth.Error) <= waterError*max(moved, 1)) { // also when it is no number
		c.breaks(8, -1, "the books of %.0f L are out by %g L", moved, truth.Error)
	}
	if !c.forgot {
		c.checkSlots(floods)
	}
	return c.broken
}

// checkSlots compares the rows with the calendar: one row with an outcome for
// each slot, a reason for each that is not proven, and a pump that never ran
// for each that says so.
func (c *checker) checkSlots(floods []controller.Flood) {
	rows := map[schedule.Slot]int{}
	for i := range floods {
		f := &floods[i]
		if f.Open() {
			c.breaks(7, f.Bench, "flood %d has no outcome", f.ID)
		}
		if !f.Open() && f.Outcome != controller.Proven && f.Reason == "" {
			c.breaks(7, f.Bench, "flood %d is %s without a reason", f.ID, f.Outcome)
		}
		if f.Outcome.NeverRan() && !f.Started.IsZero() {
			c.breaks(7, f.Bench, "flood %d is %s and its pump ran", f.ID, f.Outcome)
		}
		if f.HasSlot {
			rows[schedule.Slot{Bench: f.Bench, Local: f.Slot}]++
		}
	}
	for _, p := range c.calendar.Between(c.from, min(c.to, c.reached+1)) {
		switch n := rows[p.Slot]; {
		case n == 0:
			c.breaks(7, p.Slot.Bench, "slot %s has no outcome", p.Slot.Local)
		case n > 1:
			c.breaks(10, p.Slot.Bench, "slot %s has %d rows", p.Slot.Local, n)
		}
		delete(rows, p.Slot)
	}
	for i := range floods {
		slot := schedule.Slot{Bench: floods[i].Bench, Local: floods[i].Slot}
		if rows[slot] > 0 && slot.Local >= c.from && slot.Local < min(c.to, c.reached+1) {
			c.breaks(10, slot.Bench, "slot %s is not in the calendar", slot.Local)
		}
	}
}
