package rehearse

import (
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

const (
	beat  = 2 * time.Minute
	cycle = 5 * beat // between slots
)

// closet is a site whose floods take a few beats, the first of them due one
// beat after start.
func closet(t require.TestingT, benches int) controller.Setup {
	s := controller.Setup{Buzzer: -1, Limits: safety.Limits{
		Reservoirs: []safety.ReservoirLimits{{Name: "tank", Usable: 200, Keep: 20}},
		Outputs:    []safety.OutputLimits{{Name: "enable", Kind: safety.Enable, Enable: -1}},
	}}
	every, err := schedule.ParseCron(fmt.Sprintf("*/%d * * * *", int(cycle.Minutes())))
	require.NoError(t, err)
	s.Plans = []schedule.Plan{{Name: "cress", Stages: []schedule.Stage{{Cron: every, Hold: beat, Strength: 1, CanWait: 3 * cycle}}}}
	for b := range benches {
		name := string(rune('a' + b))
		s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "pump_" + name, Kind: safety.FloodPump, Enable: 0})
		s.Limits.Benches = append(s.Limits.Benches, safety.BenchLimits{
			Name: name, Pump: b + 1, Full: true, High: true, MaxHold: beat,
			Fill: beat, Fall: beat, Drain: 2 * beat, Over: 2 * beat, DailyRun: 12 * time.Hour, Flow: 0.1, Flood: 20,
		})
		s.Batches = append(s.Batches, schedule.Batch{Name: "batch_" + name, Bench: b, Transplanted: schedule.DateOf(2026, time.March, 1)})
	}
	s.Calendar, err = schedule.NewCalendar(schedule.Setup{Zone: time.UTC, Plans: s.Plans, Batches: s.Batches, Benches: benches})
	require.NoError(t, err)
	return s
}

// small is the program on a closet: its clock, its board and its ledger in one,
// and an oracle that knows the invariants and hears of every turn.
type small struct {
	t       require.TestingT
	setup   controller.Setup // the program's
	limits  safety.Limits    // the oracle's
	now     safety.Now
	read    *safety.Readings
	moved   []time.Duration // when the readings of a bench last changed
	command safety.Command
	ledger  *loop.Memory
	sieve   bool // the ledger loses checkpoints, and nobody hears of it
	boots   int
	loop    *loop.Loop
	guard   *safety.Guard
	control *controller.Controller

	benches []seen
	slots   map[schedule.Slot]int // the last attempt at each that pumped
	forgot  bool                  // a restart lost what broken storage had not kept
	broken  string
}

// seen is what the oracle remembers of a bench.
type seen struct {
	on, ran, latched bool
	since, off       time.Duration
}

func newSmall(t require.TestingT, program, oracle controller.Setup) *small {
	n := len(oracle.Limits.Benches)
	s := &small{
		t: t, setup: program, limits: oracle.Limits, boots: 1, ledger: &loop.Memory{}, read: safety.NewReadings(oracle.Limits),
		now:   safety.Now{Mono: time.Hour, Wall: time.Date(2026, time.March, 9, 12, 0, 0, 0, time.UTC).Add(time.Second - cycle), Trusted: true},
		moved: make([]time.Duration, n), benches: make([]seen, n), slots: map[schedule.Slot]int{},
	}
	for b := range n {
		s.read.Benches[b].Full.Level, s.read.Benches[b].High.Level = safety.Dry, safety.Dry
	}
	s.begin()
	s.pass(cycle - beat - time.Second) // tables count as full at first
	return s
}

func (s *small) begin() {
	boot := fmt.Sprint("boot-", s.boots)
	kept, err := safety.State{}, error(nil)
	if cp := s.ledger.Checkpoint; cp != nil {
		kept = cp.Guard
		s.control, err = controller.Resume(s.setup, s.now, cp.Controller, boot)
	} else {
		s.control, err = controller.New(s.setup, s.now)
	}
	require.NoError(s.t, err)
	s.guard = safety.New(s.setup.Limits, kept, s.now, boot)
	s.loop = loop.New(loop.Parts{Clock: s, Board: s, Guard: s.guard, Controller: s.control, Limits: s.setup.Limits, Ledger: s, Sinks: []loop.Sink{s}, Boot: boot})
}

// Record and its like make a ledger that may be a sieve.
func (s *small) Record(events []controller.Event, cp *loop.Checkpoint) {
	if s.sieve {
		cp = nil
	}
	s.ledger.Record(events, cp)
}

func (s *small) Acknowledged() []loop.Ack { return s.ledger.Acknowledged() }

func (s *small) Now() safety.Now { return s.now }

func (s *small) Wait(context.Context, time.Duration, <-chan struct{}) error {
	return errors.ErrUnsupported
}

func (s *small) Apply(c safety.Command) error { s.command = c; return nil }

func (s *small) NextRead(time.Duration) time.Duration { return safety.Never }

func (s *small) Close() error { return nil }

func (s *small) Read(now safety.Now, r *safety.Readings) {
	for b := range s.read.Benches {
		for _, x := range []*safety.Reading{&s.read.Benches[b].Full, &s.read.Benches[b].High} {
			if x.Level != safety.Fault {
				x.At = now.Mono
			}
		}
		r.Benches[b] = s.read.Benches[b]
	}
}

// step sets the wall clock.
func (s *small) step(by time.Duration) { s.now.Wall = s.now.Wall.Add(by) }

// restart ends the program without a turn and starts it again.
func (s *small) restart(boot int) {
	s.forgot = s.forgot || s.ledger.Lost > 0
	for b := range s.benches {
		s.lookOff(b)
	}
	if boot != s.boots {
		by := time.Minute - s.now.Mono
		s.now.Mono, s.boots = time.Minute, boot
		for b := range s.benches {
			s.moved[b] += by
			s.benches[b].since += by
			s.benches[b].off += by
		}
	}
	s.command = safety.Command{}
	s.ledger.Acknowledged()
	s.begin()
}

// pass takes turns for a while, wherever the loop asks for one.
func (s *small) pass(d time.Duration) {
	for end, turns := s.now.Mono+d, 0; s.broken == ""; turns++ {
		next := min(s.loop.Turn(), end)
		if turns > 1000 {
			s.breaks(0, "no time passes")
		}
		s.now.Wall, s.now.Mono = s.now.Wall.Add(next-s.now.Mono), next
		if next == end {
			return
		}
	}
}

func (s *small) breaks(invariant int, format string, args ...any) {
	if s.broken == "" {
		s.broken = fmt.Sprintf("invariant %d: ", invariant) + fmt.Sprintf(format, args...)
	}
}

// Turn is the oracle's.
func (s *small) Turn(t *loop.Turn) {
	for i := range t.Events {
		s.hear(&t.Events[i])
	}
	for b := range s.benches {
		s.look(b)
	}
}

func (s *small) hear(e *controller.Event) {
	switch e.Kind {
	case controller.PumpStarted:
		f := &e.Flood
		if !f.HasSlot {
			return
		}
		slot := schedule.Slot{Bench: f.Bench, Local: f.Slot}
		if last, was := s.slots[slot]; was && f.Attempt <= last && !s.forgot {
			s.breaks(10, "slot %s is flooded again", f.Slot)
		}
		s.slots[slot] = f.Attempt
	case controller.FloodEnded:
		f := &e.Flood
		if f.Outcome == "" || f.Outcome != controller.Proven && f.Reason == "" {
			s.breaks(7, "flood %d ended as %q because %q", f.ID, f.Outcome, f.Reason)
		}
		if f.Outcome.NeverRan() && !f.Started.IsZero() {
			s.breaks(7, "flood %d is %s and its pump ran", f.ID, f.Outcome)
		}
	case controller.GuardActed:
		switch g := &e.Guard; {
		case g.Bench < 0:
		case g.Kind == safety.LatchedEvent:
			s.benches[g.Bench].latched = true
		case g.Kind == safety.ResetEvent:
			s.benches[g.Bench].latched = false
		}
	}
}

// look holds bench b to the invariants in the turn that has just been taken.
func (s *small) look(b int) {
	w, l, r := &s.benches[b], &s.limits.Benches[b], &s.read.Benches[b]
	on := s.command.On(l.Pump) && s.command.On(0)
	if !on {
		s.lookOff(b)
		return
	}
	if !w.on {
		s.lookStart(b)
		w.on, w.since = true, s.now.Mono
	}
	switch {
	case s.now.Mono-w.since >= l.Fill*3/2+l.MaxHold:
		s.breaks(3, "bench %d has pumped for %v", b, s.now.Mono-w.since)
	case r.High.Level != safety.Dry:
		s.breaks(4, "bench %d pumps with HIGH %v", b, r.High.Level)
	case w.latched && !s.forgot:
		s.breaks(5, "bench %d pumps and was latched", b)
	case r.Full.Level == safety.Fault && s.now.Mono-r.Full.At > safety.StaleAfter:
		s.breaks(1, "bench %d pumps with FULL unread for %v", b, s.now.Mono-r.Full.At)
	}
}

func (s *small) lookStart(b int) {
	w, l := &s.benches[b], &s.limits.Benches[b]
	if full := s.read.Benches[b].Full.Level; full != safety.Dry {
		s.breaks(1, "bench %d starts with FULL %v", b, full)
	}
	if rest := s.now.Mono - w.off; w.ran && rest < l.Drain {
		s.breaks(10, "bench %d starts %v after its last run", b, rest)
	}
	for o := range s.benches {
		if other := &s.benches[o]; o != b && other.on {
			s.breaks(6, "bench %d starts while bench %d pumps", b, o)
		}
	}
}

func (s *small) lookOff(b int) {
	if w := &s.benches[b]; w.on {
		w.on, w.off, w.ran = false, s.now.Mono, true
	}
}

var looks = maphash.MakeSeed()

// key is how the state looks: what survives a restart, what is shown, what is
// due next, and how long the switches have read what they read.
func (s *small) key() uint64 {
	var h maphash.Hash
	h.SetSeed(looks)
	var st controller.Status
	s.control.StatusInto(&st)
	fmt.Fprintf(&h, "%+v %+v %+v", st, s.guard.State(), s.control.State(""))
	fmt.Fprint(&h, s.guard.Next(), s.control.Next(), s.command, s.now, s.ledger.Broken, s.ledger.Lost > 0, s.forgot)
	fmt.Fprint(&h, s.read.Benches, s.moved, s.benches, s.slots)
	return h.Sum64()
}
