package safety

import "time"

// State is what the guard must remember across restarts and power cuts: the
// latched trips, the rolling budgets and the counts. Times are on the
// boot-time clock of the boot that saved them.
type State struct {
	Boot    string                `json:"boot,omitzero"` // identity of that boot; "" when unknown
	Mono    time.Duration         `json:"mono_ns,omitzero"`
	Wall    time.Time             `json:"wall,omitzero"`
	Trusted bool                  `json:"trusted,omitzero"`
	Starts  []time.Duration       `json:"starts_ns,omitzero"` // program starts with a pump run, since the last storm
	Storms  []time.Duration       `json:"storms_ns,omitzero"`
	HandsIn bool                  `json:"hands_in,omitzero"` // by command: a person may still be in the bench
	Benches map[string]BenchState `json:"benches,omitzero"`  // by name, those that left the file among them

	// Lost are benches of which nothing reliable is kept, and why, by name. The
	// guard that starts from it latches them.
	Lost map[string]string `json:"lost,omitzero"`
}

// BenchState is the part of State that belongs to one bench.
type BenchState struct {
	Latched []Trip          `json:"latched,omitzero"` // first cause first
	Weld    bool            `json:"weld,omitzero"`    // its pump relay is proven welded
	Runs    []Span          `json:"runs,omitzero"`    // oldest first
	Running bool            `json:"running,omitzero"` // the last of them had not ended
	Highs   []time.Duration `json:"highs_ns,omitzero"`
	Leaks   []time.Duration `json:"leaks_ns,omitzero"`
	Stales  []time.Duration `json:"stales_ns,omitzero"`
	Homing  bool            `json:"homing,omitzero"` // a failed fill whose water was not known to be home
	Retried bool            `json:"retried,omitzero"`
	Failed  bool            `json:"failed,omitzero"`
	Watched bool            `json:"watched,omitzero"`

	// Resets counts how often its latches were taken off it. Of two records the
	// one that has counted more knows the newer ones.
	Resets int    `json:"resets,omitzero"`
	Pump   string `json:"pump_line,omitzero"`   // the line of its pump; empty when unknown
	Enable string `json:"enable_line,omitzero"` // the line of its enable relay; empty without one

	// Learnt is how long fills take, without and with the low switch falling.
	Learnt [2]time.Duration `json:"learnt_ns,omitzero"`
}

// Dirty reports whether State would differ, in a way that matters across
// restarts, from what it last returned.
func (g *Guard) Dirty() bool { return g.dirty }

// State returns a copy of what has to survive, as of the latest turn.
func (g *Guard) State() (s State) {
	g.StateInto(&s)
	return s
}

// StateInto makes s that copy, in the room that s already has.
func (g *Guard) StateInto(s *State) {
	g.dirty = false
	s.Boot, s.Mono, s.Wall, s.Trusted = g.boot, g.now.Mono, g.now.Wall, g.now.Trusted
	s.Starts, s.Storms = append(s.Starts[:0], g.storm.starts...), append(s.Storms[:0], g.storm.storms...)
	s.HandsIn = g.byHand
	if s.Benches == nil {
		s.Benches = make(map[string]BenchState, len(g.benches))
	}
	for i := range g.benches {
		b := &g.benches[i]
		k := s.Benches[b.Name]
		b.stateInto(&k, g.now.Mono)
		k.Pump, k.Enable = g.linesOf(b)
		s.Benches[b.Name] = k
	}
	g.leftInto(s)
	s.Lost = nil
}

func (b *bench) stateInto(s *BenchState, now time.Duration) {
	s.Latched = append(s.Latched[:0], b.latched...)
	s.Highs, s.Stales = append(s.Highs[:0], b.highs...), append(s.Stales[:0], b.stales...)
	s.Leaks = append(s.Leaks[:0], b.leaks...)
	s.Weld, s.Running, s.Homing, s.Resets = b.weld, b.pump, b.run.homing, b.resets
	s.Retried, s.Failed, s.Watched = b.retried, b.failed, b.watched
	s.Learnt = b.learnt
	s.Runs = s.Runs[:0]
	for n := b.runs.len() - 1; n >= 0; n-- {
		s.Runs = append(s.Runs, *b.runs.back(n))
	}
}

// shift carries times of an earlier program over to the present boot-time clock.
type shift struct {
	by      time.Duration
	now     time.Duration
	unknown bool // how long the power was off is not known
}

// shift decides how much time has passed since s was saved. In the same boot
// the boot-time clock tells, in another one the wall clock where it was
// trusted both times; otherwise only powered time counts.
func (s *State) shift(now Now, boot string) shift {
	sh := shift{now: now.Mono}
	if s.Boot != "" && s.Boot == boot {
		return sh
	}
	passed := now.Wall.Sub(s.Wall)
	if s.Trusted && now.Trusted && passed >= 0 {
		sh.by = now.Mono - s.Mono - passed
	} else {
		sh.by, sh.unknown = -s.Mono, true
	}
	return sh
}

// at carries one time over; none lies in the future.
func (s shift) at(t time.Duration) time.Duration { return min(t+s.by, s.now) }

func (s shift) all(times []time.Duration) []time.Duration {
	var moved []time.Duration
	for _, t := range times {
		moved = append(moved, s.at(t))
	}
	return moved
}

// restore takes over what an earlier program remembered.
func (g *Guard) restore(s State) {
	sh := s.shift(g.now, g.boot)
	g.storm.starts = sh.all(s.Starts)
	g.storm.storms = sh.all(s.Storms)
	g.byHand = s.HandsIn
	for i := range g.benches {
		b := &g.benches[i]
		b.run = run{assumed: true, stopped: g.program, water: Standing}
		b.rest = g.program + b.Drain
		if saved, known := s.Benches[b.Name]; known {
			b.restore(saved, sh)
			// What the switches showed of that water is not kept: a low switch that is
			// wet now may have been topped up meanwhile, so it proves nothing. The
			// fill counts as failed, without a retry. Where the floor takes a spill a
			// reservoir that lost its water thus does not latch here; its low switch,
			// still dry, refuses the next start all the same.
			if saved.Homing && g.failedAgain(b) {
				g.latch(i, FillWindow, "the program ended before the water of a failed fill was known to be home")
			}
		}
	}
	g.restoreLeft(s, sh)
	g.takeOver(s)
	g.latchLost(s.Lost)
}

// restore takes over the state of a bench. The pump rests from its last stop,
// or from this start when it is not known when that was.
func (b *bench) restore(s BenchState, sh shift) {
	b.weld, b.retried, b.failed, b.watched, b.resets = s.Weld, s.Retried, s.Failed, s.Watched, s.Resets
	b.highs, b.leaks, b.stales = sh.all(s.Highs), sh.all(s.Leaks), sh.all(s.Stales)
	for n, t := range s.Learnt {
		if t > 0 {
			b.learnt[n] = b.within(t)
		}
	}
	for _, t := range s.Latched {
		t.At = sh.at(t.At)
		b.latched = append(b.latched, t)
	}
	for _, span := range s.Runs {
		b.runs.begin(sh.at(span.Start))
		b.runs.end(sh.at(span.Stop))
	}
	if len(s.Runs) == 0 {
		return
	}
	stopped := b.runs.back(0).Stop
	if s.Running {
		b.runs.end(min(sh.now, b.runs.back(0).Start+b.MaxRun(b.MaxHold)))
	}
	if s.Running || sh.unknown {
		stopped = sh.now
	}
	b.rest = max(b.rest, stopped+b.minRest())
}
