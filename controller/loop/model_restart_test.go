package loop_test

import (
	"maps"
	"math"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/schedule"
)

// started notes a start of the program; anew says that storage held nothing.
func (o *oracle) started(anew bool) {
	now := o.m.elapsed
	o.disturbed, o.jumped = now, now
	if o.calm > o.lastAt {
		o.calm = now + 2*time.Hour
	}
	if anew {
		*o = oracle{
			m: o.m, benches: o.benches, calendar: o.calendar, batches: o.batches, log: o.log, only: o.only, rule: o.rule, broken: o.broken,
			first: now, disturbed: now, jumped: now, due: map[schedule.Slot]coming{}, ended: map[int64]controller.Flood{}, ran: map[int64]stretch{},
		}
		for b := range o.benches {
			o.benches[b] = told{}
		}
		o.last, o.lastAt = o.m.Now(), now
		return
	}
	o.passOutage()
}

// passOutage adds the time in which no program ran to what the crops waited.
func (o *oracle) passOutage() {
	now, is := o.m.elapsed, o.m.Now()
	gone := now - o.lastAt
	least, most := gone, gone
	misled := false // by a trusted clock that was set meanwhile
	known := is.Mono >= o.last.Mono && is.Mono-o.last.Mono == gone
	if !known {
		shown := is.Wall.Sub(o.last.Wall)
		known = o.last.Trusted && is.Trusted && (shown-gone).Abs() < 2*time.Second
		if o.last.Trusted && is.Trusted && shown >= 0 {
			least, most = min(least, shown), max(most, shown)
			misled = !known
		}
	}
	for b := range o.benches {
		k := &o.benches[b]
		low, high := least, most
		if !known {
			low, high = min(least, o.intervals(b, false)), max(most, o.intervals(b, true))
			if o.seen.ok {
				k.pause.early = max(k.pause.early, -o.seen.wrong)
			}
			k.pause.measured = k.pause.measured && o.lastWrong == 0 && (o.m.wrong == 0 || !o.m.trusted)
		}
		k.least, k.most = k.least+max(0, low-heartbeat), k.most+high+heartbeat+o.seen.wrong.Abs()
		if !known {
			k.tap = tapped{}
			k.everProven = k.everProven && o.unknown == 0 && o.seen.wrong == 0 // else nobody can know how long ago that was: a clock that was trusted and wrong misleads
		}
		k.pause.unsure = k.pause.unsure || misled
		for _, s := range k.skips {
			s.vague = s.vague || !known
		}
	}
	if !known {
		o.unknown++
	}
	o.last, o.lastAt = is, now
}

// intervals is the shortest or the longest time between two floods of a stage.
func (o *oracle) intervals(b int, longest bool) time.Duration {
	var d time.Duration
	for _, times := range o.m.layout.times[b] {
		each := day / time.Duration(len(times))
		if d == 0 || longest == (each > d) {
			d = each
		}
	}
	return d
}

// died notes that the program has ended, and that nothing from a turn on was
// stored.
func (o *oracle) died(lost int) {
	o.handsIn.died(lost)
	for b := range o.benches {
		k := &o.benches[b]
		k.pump, k.halt.now = false, false
		k.closed.died(lost)
		k.latched.died(lost)
		k.sanitising.died(lost)
		k.pause.died(lost)
		k.asks = slices.DeleteFunc(k.asks, func(a *ask) bool { return a.turn >= lost })
		k.skips = slices.DeleteFunc(k.skips, func(s *skip) bool { return s.turn >= lost })
		for _, s := range k.skips {
			if s.stood >= lost {
				s.stood = 0
			}
			if s.done >= lost { // what becomes of it now hangs on how long ago it was meant
				s.done, s.instead, s.vague = 0, 0, true
			}
		}
		if lost != math.MaxInt {
			k.least, o.seen.ok, o.last.Trusted = 0, false, false // nor how long it ran, nor what time it was
			k.tap, k.halt = tapped{}, halted{}                   // the number of that flood is given to another one
		}
		if k.countedIn >= lost { // the program does not know of that flood any more
			k.most, k.everProven = never/2, false
		}
		k.murky = k.murky || k.changed >= lost
		k.hasEnded = k.hasEnded && lost == math.MaxInt
	}
	if lost == math.MaxInt {
		return
	}
	o.unknown = max(o.unknown, o.measured) // what became of them then is not stored
	maps.DeleteFunc(o.due, func(_ schedule.Slot, c coming) bool { return c.turn >= lost })
	for id, f := range o.ended {
		if o.m.storage.floods[id].Outcome != f.Outcome {
			delete(o.ended, id)
		}
	}
	for id := range o.ran {
		if !o.m.storage.knowsStart(id) {
			delete(o.ran, id)
		}
	}
}
