package safety

import (
	"fmt"
	"math"
	"time"
)

// Never is the answer of Guard.Next when nothing is due.
const Never = time.Duration(math.MaxInt64)

// StallAfter is how late a turn may come, while a pump runs, before the guard
// takes the program for stalled.
const StallAfter = time.Second

// Guard is the one owner of the outputs. It is not safe for concurrent use.
type Guard struct {
	lim      Limits
	boot     string
	program  time.Duration // when this program started
	now      Now           // of the turn or call at hand
	benches  []bench
	tanks    []reservoir
	stirrers []stirrer
	relays   []relay // by output; used for those of kind Enable
	button   filter
	byHand   bool // hands-in by command
	handsIn  bool
	storm    storm
	click    click
	view     View
	left     map[string]BenchState // of benches that left the file; times on the present clock
	shown    []LeftBench           // the same for the view
	events   []Event
	planned  time.Duration
	observed bool // a turn is under way: Observe was called, Allow was not
	again    bool // something happened that the next turn should see at once
	stopped  bool
	dirty    bool
}

// New returns a guard with every output off. State is its zero value for a
// first start; boot identifies this boot of the machine, "" when unknown.
// Until Drain has passed every table counts as full.
func New(l Limits, s State, now Now, boot string) *Guard {
	g := &Guard{
		lim: l, boot: boot, program: now.Mono, now: now, planned: Never,
		benches:  make([]bench, len(l.Benches)),
		tanks:    make([]reservoir, len(l.Reservoirs)),
		stirrers: make([]stirrer, len(l.Stirrers)),
		relays:   make([]relay, len(l.Outputs)),
		view: View{
			Benches:    make([]BenchView, len(l.Benches)),
			Reservoirs: make([]ReservoirView, len(l.Reservoirs)),
		},
	}
	for k := range g.tanks {
		g.tanks[k].ReservoirLimits = &g.lim.Reservoirs[k]
		g.tanks[k].warmth.at = now.Mono
	}
	for k := range g.stirrers {
		g.stirrers[k].StirrerLimits = &g.lim.Stirrers[k]
		g.stirrers[k].enable = l.Outputs[l.Stirrers[k].Output].Enable
	}
	for i := range g.benches {
		b := &g.benches[i]
		b.BenchLimits = &g.lim.Benches[i]
		b.enable = l.Outputs[b.Pump].Enable
		b.text = b.texts(&g.tanks[b.Reservoir], g.lim.Gallons)
	}
	g.restore(s)
	g.survey()
	return g
}

// Observe is the first phase of a turn: it filters the switches and runs every
// interlock that does not depend on what the controller wants. The View stays
// valid until the next Observe.
func (g *Guard) Observe(now Now, r *Readings) *View {
	g.now, g.observed, g.again = now, true, false
	clear(g.relays)
	g.checkStall()
	g.read(r)
	for i := range g.benches {
		g.follow(i)
	}
	g.checkHandsIn()
	for i := range g.benches {
		g.checkHigh(i)
		g.checkLeak(i)
	}
	for i := range g.benches {
		g.checkRun(i)
		g.checkDrain(i)
		g.checkPlausible(i)
	}
	g.survey()
	g.show()
	return &g.view
}

// Allow is the second phase of a turn: it returns what is allowed of w. It is
// the only maker of a Command that energises anything, once for each Observe.
func (g *Guard) Allow(now Now, w *Want) Command {
	g.now = now
	if !g.observed || g.stopped {
		g.allOff()
		return Command{}
	}
	g.observed = false
	var c Command
	for i := range g.benches {
		if g.allowRun(i, w.Benches[i]) {
			c.set(g.benches[i].Pump)
		}
	}
	for k := range g.stirrers {
		if g.allowStir(k, w.Stir[k]) {
			c.set(g.stirrers[k].Output)
		}
	}
	for i, o := range g.lim.Outputs {
		if o.Kind == Other && w.Other[i] {
			c.set(i)
		}
	}
	g.allowEnable(&c)
	if g.allowClick() {
		c.set(g.click.output)
	}
	return c
}

// allowRun decides on the flood pump of bench i.
func (g *Guard) allowRun(i int, w RunWant) bool {
	b := &g.benches[i]
	same := !b.run.assumed && b.run.flood == w.Flood && b.run.attempt == w.Attempt
	if !w.Pump {
		b.refused = Refusal{}
	}
	switch {
	case b.pump && !(w.Pump && same):
		b.learn()
		g.stop(i)
	case b.pump:
		b.run.hold = b.cutHold(w.Hold)
		g.checkLimit(i)
	case w.Pump && !same && g.mayStart(i):
		g.start(i, w)
	}
	return b.pump
}

// mayStart reports whether a run may start in this very turn. One that only the
// enable relay, opened in this turn, keeps from it gets another turn at once.
func (g *Guard) mayStart(i int) bool {
	b := &g.benches[i]
	b.refused = g.permissive(i)
	if b.refused.Refused() {
		return false
	}
	if g.relay(b.enable).open {
		g.again = true
		return false
	}
	return g.countProgramRun()
}

// checkLimit trips a run that is wanted at its limit or past it.
func (g *Guard) checkLimit(i int) {
	b := &g.benches[i]
	at, why := b.limit()
	if g.now.Mono < at {
		return
	}
	g.trip(i, why, true, fmt.Sprintf("the pump was still wanted after %s", Spell(g.now.Mono-b.run.started)))
	g.survey()
	g.again = true
}

// checkStall stops everything when this turn came too late with a pump on.
func (g *Guard) checkStall() {
	late := g.now.Mono - g.planned
	g.planned = Never
	if late > StallAfter && g.pumping() {
		g.stall(fmt.Sprintf("the program came %s late with a pump on", Spell(late)))
	}
}

// stall ends every run of a program that was late, and opens every enable relay.
func (g *Guard) stall(detail string) {
	stirring := true
	for i := range g.benches {
		if g.benches[i].pump {
			g.trip(i, Stalled, true, detail)
			stirring = false
		}
	}
	if stirring {
		g.emit(Event{Kind: Tripped, Bench: -1, Interlock: Stalled, Detail: detail})
	}
	g.openAll()
}

// pumping reports whether any pump is energised.
func (g *Guard) pumping() bool {
	for i := range g.benches {
		if g.benches[i].pump {
			return true
		}
	}
	for k := range g.stirrers {
		if g.stirrers[k].on {
			return true
		}
	}
	return false
}

// Planned tells, after each turn, which wake-up the loop planned for the next.
func (g *Guard) Planned(until time.Duration) { g.planned = until }

// Stop ends every run: no further Command energises anything.
func (g *Guard) Stop(now Now) {
	g.now, g.stopped = now, true
	g.allOff()
}

// allOff ends every run and opens every enable relay.
func (g *Guard) allOff() {
	for i := range g.benches {
		if g.benches[i].pump {
			g.stop(i)
		}
	}
	g.openAll()
}

// TakeEvents returns the events since the last call. The slice is reused.
func (g *Guard) TakeEvents() []Event {
	taken := g.events
	g.events = g.events[:0]
	return taken
}

func (g *Guard) emit(e Event) {
	e.At = g.now.Mono
	g.events = append(g.events, e)
}

// show fills the view.
func (g *Guard) show() {
	now := g.now.Mono
	g.view.HandsIn, g.view.Left = g.handsIn, g.shown
	for k := range g.tanks {
		t := &g.tanks[k]
		g.view.Reservoirs[k] = ReservoirView{Low: t.low.Switch, Level: t.level.Switch, Temperature: t.warmth.value, TemperatureAt: t.warmth.at, Believed: t.warmth.believed(now)}
	}
	for i := range g.benches {
		b := &g.benches[i]
		r := &b.run
		g.view.Benches[i] = BenchView{
			Full: b.full.Switch, High: b.high.Switch, Empty: b.empty.Switch, Leak: b.leak.Switch,
			Pump: b.pump, Start: g.permissive(i), Trip: r.trip,
			Flood: r.flood, Attempt: r.attempt, Started: r.started, Stopped: r.stopped,
			FullAt: r.fullAt, FullFor: b.fullFor(now),
			Water: r.water, GoneAt: r.goneAt, LateGone: r.late,
			Retry: r.retry, Watched: b.watched, Latched: b.latched, Weld: b.weld,
		}
	}
}
