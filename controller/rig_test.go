package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// rig drives a controller and a real guard against tables that fill and fall
// in the times of their limits, in virtual time.
type rig struct {
	t        *testing.T
	setup    Setup
	guard    *safety.Guard
	control  *Controller
	now      safety.Now
	readings *safety.Readings
	tables   []table
	command  safety.Command
	storage  bool // acknowledges intentions
	events   []Event
	floods   map[int64]Flood
	order    []int64
	messages []string
	pumped   map[int]time.Duration // by output
}

// table is a tank as simple as a stopwatch: full after Fill of pumping, not
// full Fall after the stop, bare Drain after it.
type table struct {
	level    float64 // 0 bare, 1 at FULL
	dead     bool    // the pump lifts nothing
	stuck    bool    // FULL shows water whatever the level
	blocked  bool    // nothing drains
	high     bool    // HIGH shows water
	lowDry   bool
	slowness float64 // times the fill time; 0 means 1
}

var dublin = mustZone("Europe/Dublin")

func mustZone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

func testLimits(benches int) safety.Limits {
	l := safety.Limits{Reservoirs: []safety.ReservoirLimits{{Name: "tank", Usable: 200, Keep: 20, Low: true, LowAt: 140}}}
	l.Outputs = append(l.Outputs, safety.OutputLimits{Name: "enable", Kind: safety.Enable, Enable: -1})
	for i := range benches {
		l.Outputs = append(l.Outputs, safety.OutputLimits{Name: "pump", Kind: safety.FloodPump, Enable: 0})
		l.Benches = append(l.Benches, safety.BenchLimits{
			Name: []string{"north", "south", "east"}[i], Pump: i + 1, Full: true, High: true,
			Fill: 4 * time.Minute, Fall: 2 * time.Minute, Drain: 12 * time.Minute, Over: 6 * time.Minute,
			MaxHold: 8 * time.Minute, DailyRun: 2 * time.Hour, Flow: 0.3, Flood: 70,
		})
	}
	return l
}

// testSetup has one batch a bench, flooded at the times given, with a hold of
// 6 min and a tolerance of canWait.
func testSetup(benches int, canWait time.Duration, at ...string) Setup {
	s := Setup{Limits: testLimits(benches), Buzzer: -1}
	stage := schedule.Stage{Hold: 6 * time.Minute, Strength: 0.5, CanWait: canWait}
	for _, a := range at {
		tod, err := schedule.ParseTimeOfDay(a)
		if err != nil {
			panic(err)
		}
		stage.At = append(stage.At, tod)
	}
	s.Plans = []schedule.Plan{{Name: "basil", Stages: []schedule.Stage{stage}}}
	for b := range benches {
		s.Batches = append(s.Batches, schedule.Batch{Name: "basil_" + s.Limits.Benches[b].Name, Bench: b, Transplanted: schedule.DateOf(2026, 3, 1)})
	}
	s.remake()
	return s
}

// eachSetup is a testSetup of as many benches as there are lists of times, each
// with a plan of its own.
func eachSetup(canWait time.Duration, at ...[]string) Setup {
	s := testSetup(len(at), canWait, at[0]...)
	s.Plans = nil
	for b, times := range at {
		s.Plans = append(s.Plans, testSetup(1, canWait, times...).Plans[0])
		s.Batches[b].Plan = b
	}
	s.remake()
	return s
}

// remake makes the calendar of a setup that was changed.
func (s *Setup) remake() {
	c, err := schedule.NewCalendar(schedule.Setup{Zone: dublin, Plans: s.Plans, Batches: s.Batches, Benches: len(s.Limits.Benches)})
	if err != nil {
		panic(err)
	}
	s.Calendar = c
}

// apart gives the last bench of a setup a reservoir of its own.
func apart(s Setup) Setup {
	own := s.Limits.Reservoirs[0]
	own.Name = "cistern"
	s.Limits.Reservoirs = append(s.Limits.Reservoirs, own)
	s.Limits.Benches[len(s.Limits.Benches)-1].Reservoir = 1
	return s
}

// stirred gives each reservoir of a setup a stirrer, from output first on.
func stirred(s Setup) (Setup, int) {
	first := len(s.Limits.Outputs)
	for k := range s.Limits.Reservoirs {
		s.Limits.Stirrers = append(s.Limits.Stirrers, safety.StirrerLimits{Output: first + k, Reservoir: k, BeforeFlood: 10 * time.Minute})
		s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "stirrer", Kind: safety.Stirrer, Enable: 0})
	}
	return s, first
}

// until runs until the wall clock of the site reads clock, and takes a turn then.
func (r *rig) until(clock string) {
	r.t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04:05", clock, dublin)
	require.NoError(r.t, err)
	require.False(r.t, at.Before(r.now.Wall), "it is past %s", clock)
	r.run(at.Sub(r.now.Wall))
	r.turn()
}

// told counts the messages of a cause.
func (r *rig) told(cause string) (n int) {
	for _, e := range r.events {
		if e.Kind == MessageSent && e.Message.Cause == cause {
			n++
		}
	}
	return n
}

func newRig(t *testing.T, s Setup, start string) *rig {
	wall, err := time.ParseInLocation("2006-01-02 15:04", start, dublin)
	require.NoError(t, err)
	now := safety.Now{Mono: time.Hour, Wall: wall.UTC(), Trusted: true}
	c, err := New(s, now)
	require.NoError(t, err)
	r := &rig{t: t, setup: s, now: now, control: c, storage: true}
	r.guard = safety.New(s.Limits, safety.State{}, now, "boot")
	r.init()
	return r
}

func (r *rig) init() {
	r.readings = safety.NewReadings(r.setup.Limits)
	r.tables = make([]table, len(r.setup.Limits.Benches))
	r.floods = map[int64]Flood{}
	r.pumped = map[int]time.Duration{}
}

// saved is what storage holds of a program that has ended.
type saved struct {
	control State
	guard   safety.State
}

// down ends the program after a last turn, for an outage in which the tables
// drain.
func (r *rig) down(outage time.Duration) saved {
	r.turn()
	s := saved{r.control.State("boot"), r.guard.State()}
	r.command = safety.Command{}
	r.pass(outage)
	return s
}

// up resumes from what was saved.
func (r *rig) up(s saved, boot string) {
	var err error
	r.control, err = Resume(r.setup, r.now, s.control, boot)
	require.NoError(r.t, err)
	r.guard = safety.New(r.setup.Limits, s.guard, r.now, boot)
}

// restart is an outage and a return, in the same boot or in another.
func (r *rig) restart(outage time.Duration, sameBoot bool) {
	s := r.down(outage)
	if sameBoot {
		r.up(s, "boot")
		return
	}
	r.now.Mono = time.Minute
	r.up(s, "another")
}

// turn is one turn as the loop takes it; it returns when the next is wanted.
func (r *rig) turn() time.Duration {
	r.read()
	v := r.guard.Observe(r.now, r.readings)
	r.control.Heard(r.now, r.guard.TakeEvents())
	w := r.control.Step(r.now, v)
	r.command = r.guard.Allow(r.now, w)
	r.control.Heard(r.now, r.guard.TakeEvents())
	next := min(r.guard.Next(), r.control.Next())
	for _, e := range r.control.TakeEvents() {
		r.note(e)
		if e.Kind == FloodIntended && r.storage {
			r.control.Recorded(e.Flood.ID, e.Flood.Attempt)
			next = r.now.Mono
		}
	}
	for _, f := range r.floods {
		if f.Ended.Equal(r.now.Wall) {
			r.guard.FloodEnded(f.Bench, f.Outcome == Proven)
		}
	}
	r.guard.Planned(max(next, r.now.Mono))
	return next
}

func (r *rig) note(e Event) {
	r.events = append(r.events, e)
	if e.Kind == MessageSent {
		r.messages = append(r.messages, string(e.Message.Urgency)+": "+e.Message.Text)
	}
	if e.Flood.ID != 0 {
		if _, ok := r.floods[e.Flood.ID]; !ok {
			r.order = append(r.order, e.Flood.ID)
		}
		r.floods[e.Flood.ID] = e.Flood
	}
}

// run takes turns for d, in steps of at most a second while anything moves.
func (r *rig) run(d time.Duration) {
	end := r.now.Mono + d
	for r.now.Mono < end {
		next := r.turn()
		step := time.Second
		if !r.command.Any() && r.still() {
			step = time.Hour
		}
		r.pass(max(0, min(next, r.now.Mono+step, end)-r.now.Mono))
	}
}

func (r *rig) still() bool {
	for i := range r.tables {
		if r.tables[i].level > 0 {
			return false
		}
	}
	return true
}

// pass moves water and clocks on by d.
func (r *rig) pass(d time.Duration) {
	for i := range r.tables {
		l, k := &r.setup.Limits.Benches[i], &r.tables[i]
		if r.command.On(l.Pump) && r.command.On(0) {
			r.pumped[l.Pump] += d
			if !k.dead {
				k.level = min(1.24, k.level+d.Seconds()/l.Fill.Seconds()/max(k.slowness, 1))
			}
		} else if !k.blocked {
			k.level = max(0, k.level-d.Seconds()/l.Drain.Seconds()*1.5)
		}
	}
	r.now.Mono += d
	r.now.Wall = r.now.Wall.Add(d)
}

func (r *rig) read() {
	level := func(wet bool) safety.Reading {
		if wet {
			return safety.Reading{Level: safety.Wet, At: r.now.Mono}
		}
		return safety.Reading{Level: safety.Dry, At: r.now.Mono}
	}
	for k := range r.readings.Reservoirs {
		r.readings.Reservoirs[k].Low = level(true)
	}
	for i := range r.tables {
		k, l := &r.tables[i], &r.setup.Limits.Benches[i]
		b := &r.readings.Benches[i]
		if l.Full {
			b.Full = level(k.stuck || k.level >= 0.99)
		}
		if l.High {
			b.High = level(k.high)
		}
		if l.Empty {
			b.Empty = level(k.level > 0.01)
		}
		if k.lowDry {
			r.readings.Reservoirs[l.Reservoir].Low = level(false)
		}
	}
}

// rows returns the floods in the order in which they were first heard of.
func (r *rig) rows() []Flood {
	list := make([]Flood, 0, len(r.order))
	for _, id := range r.order {
		list = append(list, r.floods[id])
	}
	return list
}

// slots returns the slots that have an ended row, and fails on one that has
// two.
func (r *rig) slots() map[schedule.Civil]Flood {
	r.t.Helper()
	seen := map[schedule.Civil]Flood{}
	for _, f := range r.rows() {
		if !f.HasSlot || f.Open() {
			continue
		}
		_, twice := seen[f.Slot]
		require.False(r.t, twice, "slot %v has two rows", f.Slot)
		seen[f.Slot] = f
	}
	return seen
}
