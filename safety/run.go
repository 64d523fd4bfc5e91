package safety

import (
	"cmp"
	"time"
)

// run is one run of a flood pump and the water it put on the table. After a
// program start each bench has an assumed one: a table that may be full.
type run struct {
	assumed bool
	flood   int64
	attempt int
	hold    time.Duration // as wanted, cut to MaxHold
	started time.Duration
	stopped time.Duration
	trip    Trip

	keepAt    time.Duration // when the counted litres reach keep
	budgetEnd time.Duration // when the rolling day's pump time is spent

	full      bool // FULL was made with the pump on
	fullAt    time.Duration
	stands    bool // FULL stands now, with the pump on
	standsAt  time.Duration
	stood     time.Duration // how long it stood before that
	emptyMade bool
	lowWet    bool // the low switch was wet at the start
	lowFell   bool // and went dry while the pump ran

	water  WaterState
	goneAt time.Duration
	late   bool

	held     bool          // its bench has kept the enable relay closed since the pump stopped
	judging  bool          // it opened on an overdue FULL: a weld may be proven
	openedAt time.Duration // when it did

	homing bool          // a failed fill whose water may still come home
	homeAt time.Duration // when that was decided
	retry  bool          // it came home
}

// bench is what the guard knows of one bench.
type bench struct {
	*BenchLimits
	enable  int // index of the enable output; -1 without one
	full    filter
	high    filter
	empty   filter
	leak    filter
	pump    bool // the flood pump is energised
	run     run
	rest    time.Duration // until when the pump rests
	refused Refusal       // of the start that was wanted last; zero when it was allowed
	runs    runs
	latched []Trip
	highs   []time.Duration // when HIGH was made in the last 24 h
	leaks   []time.Duration // when the floor was wet
	stales  []time.Duration
	weld    bool             // its pump relay is proven welded
	retried bool             // the one automatic retry is spent until a flood is proven
	failed  bool             // the last slot's fill failed
	learnt  [2]time.Duration // how long fills take, without and with the low switch falling; 0 until learnt
	watched bool
	resets  int  // how often its latches were taken off it
	proof   bool // under proof test
	text    texts
}

// reservoir is what the guard knows of one reservoir.
type reservoir struct {
	*ReservoirLimits
	low      filter
	warmth   thermometer // where one is fitted
	level    filter      // passed on alone
	cold     bool
	standing *bench // the first with water on its table that is to come back; nil without one
	givenUp  Litres // what stands on latched benches
}

// note notes what a bench of the reservoir says of it.
func (t *reservoir) note(b *bench) {
	switch {
	case b.run.water == Gone:
	case len(b.latched) > 0:
		t.givenUp += b.Flood
	default:
		t.standing = cmp.Or(t.standing, b)
	}
}

// start energises the pump of bench i for a new run.
func (g *Guard) start(i int, w RunWant) {
	b := &g.benches[i]
	tank := &g.tanks[b.Reservoir]
	now := g.now.Mono
	b.pump = true
	b.run = run{
		flood: w.Flood, attempt: w.Attempt, hold: b.cutHold(w.Hold), started: now, water: Standing,
		keepAt:    g.keepAt(i),
		budgetEnd: now + b.dailyLimit() - b.runs.used(now),
		lowWet:    tank.Low && tank.low.Level == Wet,
	}
	b.runs.begin(now)
	tank.note(b)
	g.dirty = true
}

// stop opens the pump relay of bench i.
func (g *Guard) stop(i int) {
	b := &g.benches[i]
	now := g.now.Mono
	b.pump = false
	b.run.stood = b.fullFor(now)
	b.run.stands = false
	b.run.stopped = now
	b.run.held = b.enable >= 0
	b.rest = now + b.minRest()
	b.runs.end(now)
	g.dirty = true
}

// follow notes what the switches say of the water of a run.
func (g *Guard) follow(i int) {
	b := &g.benches[i]
	r := &b.run
	r.emptyMade = r.emptyMade || b.empty.Level == Wet
	if !b.pump {
		return
	}
	r.lowFell = r.lowFell || r.lowWet && g.tanks[b.Reservoir].low.Level == Dry
	wet := b.full.Level == Wet
	switch {
	case wet && !r.stands:
		r.stands, r.standsAt = true, max(b.full.Since, r.started)
		if !r.full {
			r.full, r.fullAt = true, r.standsAt
		}
	case !wet && r.stands:
		r.stands = false
		r.stood += b.full.Since - r.standsAt
	}
}

// cutHold is how much of a wanted hold the bench grants.
func (b *bench) cutHold(hold time.Duration) time.Duration { return min(max(hold, 0), b.MaxHold) }

// fullFor is how long FULL has stood in the run with the pump on.
func (b *bench) fullFor(now time.Duration) time.Duration {
	if !b.run.stands {
		return b.run.stood
	}
	if b.full.raw == Dry {
		now = b.full.rawSince
	}
	return b.run.stood + now - b.run.standsAt
}

// limit is when the present run has to have ended, and by which interlock.
func (b *bench) limit() (time.Duration, Interlock) {
	at := b.run.started + b.MaxRun(b.run.hold)
	if !b.High && b.run.full {
		at = min(at, b.run.fullAt+b.Over)
	}
	if b.run.budgetEnd < at {
		return b.run.budgetEnd, DailyRun
	}
	return at, MaxRun
}

// minRest is how long the pump rests between runs.
func (b *bench) minRest() time.Duration { return b.Drain + RestMargin }

// half3 is one and a half times d.
func half3(d time.Duration) time.Duration { return d + d/2 }
