package loop_test

import (
	"context"
	"time"

	"benchtide/safety"
)

// stand is the board and the clock of a site whose tables are as simple as a
// stopwatch. Time moves by pass alone; no random chance is in it.
type stand struct {
	limits  *safety.Limits
	began   time.Time     // true time at the beginning
	elapsed time.Duration // true time since
	booted  time.Duration // true time since, at the last boot
	wrong   time.Duration // how far the wall clock is ahead of the truth
	trusted bool
	boots   int
	command safety.Command
	tables  []basin
}

// basin is a table. Its level is counted in half nanoseconds of filling: the
// pump adds two a nanosecond, the drain takes one.
type basin struct {
	level time.Duration
	full  time.Duration // the level at which FULL is made
	brim  time.Duration // the standpipe lets it rise no higher

	dead    bool // the pump lifts nothing
	blocked bool // nothing drains
	high    bool // HIGH shows water
	hidden  bool // a drain that was blocked has kept water
	low     bool // the low switch of its reservoir shows none
}

func newStand(l *safety.Limits, began time.Time) *stand {
	s := &stand{limits: l, began: began, tables: make([]basin, len(l.Benches)), boots: 1, trusted: true}
	s.booted = -time.Minute
	for b := range s.tables {
		fill := l.Benches[b].Fill
		s.tables[b].full, s.tables[b].brim = 2*fill, 2*fill+2*fill/5
	}
	return s
}

func (s *stand) truth() time.Time { return s.began.Add(s.elapsed) }

// Now shows the three readings of the clock.
func (s *stand) Now() safety.Now {
	return safety.Now{Mono: s.elapsed - s.booted, Wall: s.truth().Add(s.wrong), Trusted: s.trusted}
}

// Wait ends at once: whoever drives the turns lets time pass.
func (s *stand) Wait(ctx context.Context, _ time.Duration, _ <-chan struct{}) error {
	return ctx.Err()
}

// Read shows the switches.
func (s *stand) Read(now safety.Now, r *safety.Readings) {
	show := func(wet bool) safety.Reading {
		if wet {
			return safety.Reading{Level: safety.Wet, At: now.Mono}
		}
		return safety.Reading{Level: safety.Dry, At: now.Mono}
	}
	for k := range r.Reservoirs {
		r.Reservoirs[k].Low = show(true)
	}
	for b := range s.tables {
		k, l := &s.tables[b], &s.limits.Benches[b]
		if l.Full {
			r.Benches[b].Full = show(k.level >= k.full)
		}
		if l.High {
			r.Benches[b].High = show(k.high)
		}
		if k.low {
			r.Reservoirs[l.Reservoir].Low = show(false)
		}
	}
}

// Apply drives the relays.
func (s *stand) Apply(c safety.Command) error {
	s.command = c
	return nil
}

// Close puts everything off.
func (s *stand) Close() error { return s.Apply(safety.Command{}) }

// NextRead is when the next FULL switch changes.
func (s *stand) NextRead(now time.Duration) time.Duration {
	next := never
	for b := range s.tables {
		k := &s.tables[b]
		switch {
		case s.pumps(b) && !k.dead && k.level < k.full:
			next = min(next, now+(k.full-k.level+1)/2)
		case !s.pumps(b) && !k.blocked && k.level >= k.full:
			next = min(next, now+k.level-k.full+1)
		}
	}
	return next
}

// pumps reports whether the pump circuit of a bench is closed.
func (s *stand) pumps(b int) bool {
	pump := s.limits.Benches[b].Pump
	return s.command.On(pump) && s.command.On(s.limits.Outputs[pump].Enable)
}

// out reports whether a program can know that water is on a table: what a
// blocked drain keeps below FULL no switch shows.
func (s *stand) out(b int) bool {
	k := &s.tables[b]
	return k.level > 0 && (!k.hidden || k.level >= k.full)
}

// pass lets time go by.
func (s *stand) pass(d time.Duration) {
	for b := range s.tables {
		k := &s.tables[b]
		k.hidden = k.level > 0 && (k.hidden || k.blocked)
		switch {
		case s.pumps(b) && !k.dead:
			k.level = min(k.brim, k.level+2*d)
		case !s.pumps(b) && !k.blocked:
			k.level = max(0, k.level-d)
		}
	}
	s.elapsed += d
}

// boot is a power cut and the boot after it: the boot-time clock begins anew.
func (s *stand) boot() {
	s.boots++
	s.booted = s.elapsed - 20*time.Second
}
