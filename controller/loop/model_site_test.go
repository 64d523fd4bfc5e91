package loop_test

import (
	"context"
	"fmt"
	"math"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// layout is a site as its file has it: which bench floods when, and from which
// water.
type layout struct {
	name    string
	began   string        // local
	times   [][2][]string // by bench: of its first stage, and of the one that a person advances it to
	apart   bool          // each bench has a reservoir of its own
	canWait time.Duration
	buzz    time.Duration
	timed   bool // the last bench has no FULL
}

var dublin = func() *time.Location {
	zone, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		panic(err)
	}
	return zone
}()

func (l *layout) start() time.Time {
	at, err := time.ParseInLocation("2006-01-02 15:04", l.began, dublin)
	if err != nil {
		panic(err)
	}
	return at
}

// laterStage is the age at which the second stage begins by itself: none here
// lives so long.
const laterStage = 300

func (l *layout) plan(b int) schedule.Plan {
	p := schedule.Plan{Name: fmt.Sprint("plan ", b)}
	for k, times := range l.times[b] {
		stage := schedule.Stage{FromDay: k * laterStage, Hold: 6 * time.Minute, Strength: 0.5, CanWait: l.canWait}
		for _, text := range times {
			at, err := schedule.ParseTimeOfDay(text)
			if err != nil {
				panic(err)
			}
			stage.At = append(stage.At, at)
		}
		p.Stages = append(p.Stages, stage)
	}
	return p
}

var benchNames = []string{"north", "south"}

func (l *layout) limits() safety.Limits {
	s := safety.Limits{Reservoirs: []safety.ReservoirLimits{{Name: "tank", Usable: 300, Keep: 20, Low: true, LowAt: 250}}}
	s.Outputs = append(s.Outputs, safety.OutputLimits{Name: "enable", Kind: safety.Enable, Enable: -1})
	for b := range l.times {
		s.Outputs = append(s.Outputs, safety.OutputLimits{Name: "pump of " + benchNames[b], Kind: safety.FloodPump, Enable: 0})
		s.Benches = append(s.Benches, safety.BenchLimits{
			Name: benchNames[b], Pump: b + 1, Full: true, High: true,
			Fill: 4 * time.Minute, Fall: 2 * time.Minute, Drain: 12 * time.Minute, Over: 6 * time.Minute,
			MaxHold: 8 * time.Minute, DailyRun: 3 * time.Hour, Flow: 0.3, Flood: 70,
		})
	}
	if l.apart {
		own := s.Reservoirs[0]
		own.Name = "cistern"
		s.Reservoirs = append(s.Reservoirs, own)
		s.Benches[1].Reservoir = 1
	}
	if l.timed {
		s.Benches[len(s.Benches)-1].Full = false
	}
	s.Outputs = append(s.Outputs, safety.OutputLimits{Name: "buzzer", Kind: safety.Other, Enable: -1})
	return s
}

// setup is made anew for each program: a controller changes its calendar.
func (l *layout) setup() controller.Setup {
	s := controller.Setup{Limits: l.limits(), Buzzer: -1}
	if l.buzz > 0 {
		s.Buzzer, s.BuzzBefore = len(s.Limits.Outputs)-1, l.buzz
	}
	for b := range l.times {
		s.Plans = append(s.Plans, l.plan(b))
		s.Batches = append(s.Batches, schedule.Batch{
			Name: "basil of " + benchNames[b], Plan: b, Bench: b,
			Transplanted: schedule.CivilIn(l.start(), dublin).Date().AddDays(-1),
		})
	}
	s.Calendar = calendarOf(&s)
	return s
}

func calendarOf(s *controller.Setup) *schedule.Calendar {
	c, err := schedule.NewCalendar(schedule.Setup{Zone: dublin, Plans: s.Plans, Batches: s.Batches, Benches: len(s.Limits.Benches)})
	if err != nil {
		panic(err)
	}
	return c
}

// modelSite is a program on a stand, with storage that takes its time, and an
// oracle that watches it.
type modelSite struct {
	*stand
	layout  *layout
	storage *storage
	loop    *loop.Loop // nil while the program does not run
	next    time.Duration
	oracle  *oracle
}

// heartbeat is how often a checkpoint is made without a change.
const heartbeat = time.Hour

func newModelSite(l *layout, wrong time.Duration, trusted bool, log func(string, ...any)) *modelSite {
	limits := l.limits()
	m := &modelSite{stand: newStand(&limits, l.start()), layout: l, storage: newStorage(0)}
	m.wrong, m.trusted = wrong, trusted
	m.storage.now = m.Now
	m.oracle = newOracle(m)
	m.oracle.log = log
	m.start()
	return m
}

// start starts the program on what storage holds.
func (m *modelSite) start() {
	now, setup := m.Now(), m.layout.setup()
	var guard safety.State
	c, err := controller.New(setup, now)
	if cp := m.storage.checkpoint; cp != nil {
		guard = cp.Guard
		c, err = controller.Resume(setup, now, cp.Controller, m.bootName())
	}
	if err != nil {
		panic(err)
	}
	m.oracle.started(m.storage.checkpoint == nil)
	m.run(&setup, c, safety.New(setup.Limits, guard, now, m.bootName()))
}

func (m *modelSite) run(s *controller.Setup, c *controller.Controller, g *safety.Guard) {
	m.loop = loop.New(loop.Parts{
		Clock: m, Board: m, Limits: s.Limits, Ledger: m.storage, Boot: m.bootName(), Heartbeat: heartbeat,
		Guard: g, Controller: c, Sinks: []loop.Sink{m.oracle},
	})
	m.turn()
}

func (m *modelSite) bootName() string { return fmt.Sprint("boot-", m.boots) }

func (m *modelSite) turn() {
	m.storage.turn++
	m.next = m.loop.Turn()
}

// live goes on for a while.
func (m *modelSite) live(d time.Duration) {
	m.liveUntil(m.elapsed+d, func() bool { return false })
}

// restless is how many turns at one moment are too many.
const restless = 2000

// liveUntil goes on until an elapsed time, or until something is so.
func (m *modelSite) liveUntil(end time.Duration, so func() bool) {
	for still := 0; m.elapsed < end && m.oracle.broken == "" && !so(); {
		now := m.Now().Mono
		d := min(m.next, m.storage.stores()) - now
		if d = max(0, min(d, end-m.elapsed)); d > 0 {
			still = 0
		} else if still++; still > restless {
			m.oracle.breaks("rest", "the program asks for turn after turn")
		}
		m.pass(d)
		m.turn()
	}
}

// act does what a person asks for, and takes the turn after it.
func (m *modelSite) act(f func(loop.Core) error) error {
	err := m.loop.Act(f)
	return err
}

// crash ends the program without a word, and starts it again in the same boot.
func (m *modelSite) crash(outage time.Duration) {
	m.die()
	m.pass(outage)
	m.start()
}

func (m *modelSite) die() {
	lost := math.MaxInt
	if len(m.storage.coming) > 0 {
		lost = m.storage.coming[0].turn
	}
	m.storage.die()
	m.loop = nil
	_ = m.Apply(safety.Command{})
	m.oracle.died(lost)
}

// stop stops the program as a service is stopped: it settles and records what
// was under way.
func (m *modelSite) stop() {
	m.oracle.disturbed = m.elapsed
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := m.loop.Run(ctx); err != nil {
		panic(err)
	}
	if !m.storage.gone {
		m.storage.settle()
	}
}

func (m *modelSite) restart(outage time.Duration) {
	m.stop()
	m.die()
	m.pass(outage)
	m.start()
}

// reload puts the file in force anew where nothing floods or waits, from memory.
func (m *modelSite) reload() bool {
	st := m.oracle.status
	for b := range st.Benches {
		k := &st.Benches[b]
		if k.Phase != controller.Rest || k.Queued > 0 || k.HasNext && k.Next.Due.Sub(m.Now().Wall) < time.Minute {
			return false
		}
	}
	m.stop()
	setup, guard, state := m.layout.setup(), m.loop.Guard, m.loop.Controller.State(m.bootName())
	c, err := controller.Resume(setup, m.Now(), state, m.bootName())
	if err != nil {
		panic(err)
	}
	m.oracle.started(false)
	m.run(&setup, c, guard.Reloaded(setup.Limits, m.Now()))
	return true
}

// cut is a power cut and the start after it. The wall clock then shows the
// truth and what is added to it.
func (m *modelSite) cut(outage, wrong time.Duration, trusted bool) {
	m.die()
	m.pass(outage)
	m.boot()
	m.wrong, m.trusted = wrong, trusted
	m.start()
}

func (m *modelSite) loopStatus(st *controller.Status) { m.loop.Controller.StatusInto(st) }
