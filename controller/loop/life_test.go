package loop_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
	"benchtide/safety"
	"benchtide/schedule"
)

// life is a site in virtual time whose program dies and starts again, on
// storage that takes its time. It watches from outside: the commands, the
// water, and what storage holds.
type life struct {
	setup   controller.Setup
	begun   time.Time
	world   *sim.World
	storage *storage
	loop    *loop.Loop // nil while the program does not run
	next    time.Duration
	back    time.Duration // elapsed time at which a program that is down starts again
	agenda  []due
	benches []watched
	downs   []span                // when the program was down
	runs    map[schedule.Slot]int // pump starts of each slot, and what was retried of them
	ill     bool                  // something besides the program fails
	reached time.Time             // the newest wall time at which the calendar was in force
	broken  []string
}

// due is something that happens at an elapsed time.
type due struct {
	at time.Duration
	do func()
}

type span struct{ from, to time.Duration }

// watched is what an onlooker knows of one bench.
type watched struct {
	on    bool
	off   time.Duration // elapsed; when its pump circuit opened last
	ran   bool
	known bool // storage knows of that run's start
	flood controller.Flood
}

// read reads a site's file.
func read(t testing.TB, path string) *config.Site {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	site, problems := config.Parse(path, data)
	require.NoError(t, problems.Err())
	return site
}

// begin is a site at a local time, its program started.
func begin(t testing.TB, site *config.Site, start string, lag time.Duration) *life {
	at, err := time.ParseInLocation("2006-01-02 15:04", start, site.Zone)
	require.NoError(t, err)
	setup, err := rehearse.Setup(site)
	require.NoError(t, err)
	world, err := rehearse.NewWorld(site, at)
	require.NoError(t, err)
	l := &life{
		setup: setup, begun: at, world: world, storage: newStorage(lag), back: never,
		benches: make([]watched, len(setup.Limits.Benches)), runs: map[schedule.Slot]int{},
	}
	l.start(t)
	return l
}

const never = time.Duration(math.MaxInt64)

// start starts the program on what storage holds.
func (l *life) start(t testing.TB) {
	now, boot := l.world.Now(), fmt.Sprint("boot-", l.world.Host().Boots)
	var guard safety.State
	c, err := controller.New(l.setup, now)
	if cp := l.storage.checkpoint; cp != nil {
		guard = cp.Guard
		c, err = controller.Resume(l.setup, now, cp.Controller, boot)
	}
	require.NoError(t, err)
	l.storage.now = l.world.Now
	l.loop = loop.New(loop.Parts{
		Clock: l.world, Board: l.world, Limits: l.setup.Limits, Ledger: l.storage, Boot: boot, Heartbeat: time.Hour,
		Guard: safety.New(l.setup.Limits, guard, now, boot), Controller: c, Sinks: []loop.Sink{l},
	})
	require.NoError(t, l.world.Apply(safety.Command{}))
	l.back = never
	l.next = l.loop.Turn()
}

// at puts something on the agenda.
func (l *life) at(elapsed time.Duration, do func()) {
	l.agenda = append(l.agenda, due{elapsed, do})
	slices.SortStableFunc(l.agenda, func(a, b due) int { return int(a.at - b.at) })
}

func (l *life) coming() time.Duration {
	if len(l.agenda) == 0 {
		return never
	}
	return l.agenda[0].at
}

func (l *life) happen() {
	for len(l.agenda) > 0 && l.agenda[0].at <= l.world.Elapsed() {
		do := l.agenda[0].do
		l.agenda = l.agenda[1:]
		do()
	}
}

// inject has a fault of the machine begin now.
func (l *life) inject(t testing.TB, f sim.Fault) {
	f.At = l.world.Elapsed()
	require.NoError(t, l.world.Inject(f))
}

// stepWall sets the wall clock by d.
func (l *life) stepWall(t testing.TB, d time.Duration) {
	f := sim.Fault{What: "clock-jump", For: d.Abs(), Size: 1}
	if d < 0 {
		f.Size = -1
	}
	l.inject(t, f)
}

// live goes on until an elapsed time.
func (l *life) live(t testing.TB, until time.Duration) {
	for l.world.Elapsed() < until {
		if l.loop == nil {
			l.pass(t, until)
			continue
		}
		ahead := min(l.coming(), until) - l.world.Elapsed()
		now := l.world.Now().Mono
		err := l.world.Wait(context.Background(), min(l.next, l.storage.stores(), now+ahead), nil)
		if errors.Is(err, sim.ErrDown) {
			l.die()
			continue
		}
		require.NoError(t, err)
		l.happen()
		if !l.world.Host().Running {
			l.die()
			continue
		}
		l.next = l.loop.Turn()
	}
}

// die drops everything that storage has not taken.
func (l *life) die() {
	l.storage.die()
	l.loop = nil
	l.downs = append(l.downs, span{l.world.Elapsed(), never})
	for b := range l.benches {
		if w := &l.benches[b]; w.on {
			w.on, w.off = false, l.world.Elapsed()
			w.known = l.storage.knowsStart(w.flood.ID)
			if f := &w.flood; !w.known && f.Unrecorded && f.HasSlot { // the one flood that may come twice: nothing tells of it
				l.runs[schedule.Slot{Bench: f.Bench, Local: f.Slot}]--
			}
		}
	}
}

// restartAfter is how long after it can the program starts again.
const restartAfter = 5 * time.Second

// pass lets time pass without the program, and starts it when it can.
func (l *life) pass(t testing.TB, until time.Duration) {
	switch host := l.world.Host(); {
	case !host.Powered || host.Crashing:
		l.back = never
	case l.back == never:
		l.back = l.world.Elapsed() + restartAfter
	}
	if l.world.Elapsed() < l.back {
		l.world.Step(min(l.back, l.coming(), until))
		l.happen()
		return
	}
	require.NoError(t, l.world.Start())
	l.downs[len(l.downs)-1].to = l.world.Elapsed()
	l.start(t)
}

// breaks notes something that must not be.
func (l *life) breaks(format string, args ...any) {
	l.broken = append(l.broken, fmt.Sprintf("%s: ", l.world.Elapsed())+fmt.Sprintf(format, args...))
}

// Turn looks at one turn, after the board was driven.
func (l *life) Turn(t *loop.Turn) {
	if t.Now.Trusted && t.Now.Wall.After(l.reached) {
		l.reached = t.Now.Wall
	}
	for i := range t.Events {
		switch e := &t.Events[i]; e.Kind {
		case controller.PumpStarted:
			l.benches[e.Bench].flood = e.Flood
			if f := &e.Flood; f.HasSlot && f.Attempt == 0 {
				l.runs[schedule.Slot{Bench: f.Bench, Local: f.Slot}]++
			}
		}
	}
	for b := range l.benches {
		l.watch(b, t.Command)
	}
}

// watch follows the pump circuit of one bench.
func (l *life) watch(b int, c safety.Command) {
	w, limits, now := &l.benches[b], &l.setup.Limits.Benches[b], l.world.Elapsed()
	enable := l.setup.Limits.Outputs[limits.Pump].Enable
	on := c.On(limits.Pump) && (enable < 0 || c.On(enable))
	switch {
	case on && !w.on:
		l.looksAtStart(b)
		w.on, w.ran, w.known = true, true, true
	case !on && w.on:
		w.on, w.off = false, now
	}
}

// bare is a depth that a switch takes for nothing, in metres.
const bare = 0.002

// looksAtStart looks at the moment at which a pump circuit closes.
func (l *life) looksAtStart(b int) {
	w, limits := &l.benches[b], &l.setup.Limits.Benches[b]
	rest := limits.Drain
	if w.known { // a program that never heard of the run still takes the table for full
		rest += safety.RestMargin
	}
	if rested := l.world.Elapsed() - w.off; w.ran && rested < rest-10*time.Millisecond {
		l.breaks("pump of %s started %s after its last run", limits.Name, rested)
	}
	if trips := l.storage.latched(limits.Name); len(trips) > 0 {
		l.breaks("pump of %s started although %s is latched", limits.Name, trips[0].Interlock)
	}
	for other := range l.benches {
		if o := &l.setup.Limits.Benches[other]; o.Reservoir == limits.Reservoir && len(l.storage.latched(o.Name)) == 0 && l.world.Depth(other) > bare {
			l.breaks("pump of %s started with %.0f mm on the table of %s", limits.Name, 1000*l.world.Depth(other), o.Name)
		}
	}
}

// outcomes are the rows of the slots, each of which has to have one with an
// outcome and a reason, and one run at most.
func (l *life) outcomes() map[schedule.Slot]controller.Flood {
	l.storage.settle()
	rows := map[schedule.Slot]controller.Flood{}
	for _, f := range l.storage.floods {
		slot := schedule.Slot{Bench: f.Bench, Local: f.Slot}
		switch _, twice := rows[slot]; {
		case !f.HasSlot:
			continue
		case twice:
			l.breaks("slot %s has two rows", slot.Local)
		case f.Open() && l.world.Now().Wall.Sub(f.Due) > 3*time.Hour:
			l.breaks("slot %s has no outcome", slot.Local)
		case !f.Open() && f.Outcome != controller.Proven && f.Reason == "":
			l.breaks("slot %s is %s for no reason", slot.Local, f.Outcome)
		}
		rows[slot] = f
	}
	for slot, n := range l.runs {
		if n > 1 {
			l.breaks("slot %s was flooded %d times", slot.Local, n)
		}
	}
	return rows
}

// sound fails the test for everything that is broken.
func (l *life) sound(t testing.TB, what string) {
	if len(l.broken) > 0 {
		require.Failf(t, what, "%s", strings.Join(l.broken[:min(len(l.broken), 10)], "\n"))
	}
}
