package loop_test

import (
	"fmt"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// oracle is an onlooker who has read what the program promises and knows
// nothing of how it keeps it. It hears what people are told, sees the pumps, the
// water and the record, and says at once when something is not so.
type oracle struct {
	m        *modelSite
	benches  []told
	handsIn  word
	calendar *schedule.Calendar // as people have changed it
	batches  []schedule.Batch
	status   controller.Status
	logged   int // rows in this turn
	unknown  int // outages since the clock was last trusted whose length the program cannot know
	measured int // as many were when it came to be trusted last
	log      func(format string, args ...any)
	only     string // judge by this rule alone
	rule     string // the first that was broken
	broken   string

	last      safety.Now    // at the last turn
	lastAt    time.Duration // elapsed
	lastWrong time.Duration
	first     time.Duration // elapsed at the first start
	disturbed time.Duration // elapsed: when the program started last, or its clock stepped or won or lost trust
	jumped    time.Duration // elapsed: when it started last, or its clock stepped
	calm      time.Duration // elapsed: when all that the trusted clock jumped over by years is settled
	seen      sighting      // of the trusted clock
	newest    time.Time     // that it has shown
	origin    time.Time     // the earliest that the first start can have been by a trusted clock
	due       map[schedule.Slot]coming
	ended     map[int64]controller.Flood
	ran       map[int64]stretch
}

// sighting is a reading of the trusted wall clock.
type sighting struct {
	at    time.Duration // elapsed
	wall  time.Time
	wrong time.Duration
	ok    bool
}

// coming is when a slot came due.
type coming struct {
	at   time.Duration // elapsed
	turn int
}

// stretch is what was seen of the runs of one flood.
type stretch struct {
	runs  int
	stood time.Duration // FULL, with the pump on, in the last
	began time.Duration // elapsed, of the last
}

// word is what a person was told of something that is on or off.
type word struct {
	on     bool
	turn   int  // in which it went to storage
	unsure bool // the program died before it can have been stored
}

func (w *word) say(on bool, turn int) { *w = word{on: on, turn: turn} }

func (w *word) died(lost int) { w.unsure = w.unsure || w.turn >= lost }

func (w *word) is() bool    { return w.on && !w.unsure }
func (w *word) isNot() bool { return !w.on && !w.unsure }

// told is what people know of one bench.
type told struct {
	pump  bool // its circuit is closed
	flood controller.Flood
	full  time.Duration // since when FULL has stood in this run; never before
	stood time.Duration

	least, most time.Duration // what the program can know to have passed since the last flood that counted
	watered     bool          // a flood counted since the program's first start
	counted     time.Duration // elapsed; when the last flood that counted stopped
	countedIn   int           // the turn
	proven      time.Duration // elapsed; when the last proven flood that counted ended
	everProven  bool
	failed      bool // a flood due since then did not count
	spoken      bool // a person was told of the crop since a flood counted
	lastEnded   controller.Flood
	hasEnded    bool

	closed, latched, sanitising word
	changed                     int  // the turn in which a person changed its calendar last
	murky                       bool // its calendar was changed while the clock was wrong
	pause                       paused
	asks                        []*ask
	skips                       []*skip
	halt                        halted
	tap                         tapped
}

type paused struct {
	word
	until    time.Duration // elapsed
	wall     time.Time     // as a person said it
	measured bool          // the length of every outage since can be known
	early    time.Duration // how much longer an outage seems by a clock that was behind before it
}

// ask is a flood by hand that was promised.
type ask struct {
	at      time.Duration // elapsed
	turn    int
	id      int64 // once the record knows it
	stopped bool
}

// skip is a flood that was promised to be left out.
type skip struct {
	at      time.Duration // elapsed
	turn    int
	slot    schedule.Civil
	hasSlot bool
	before  controller.Flood // the flood that was under way then
	queued  bool             // one waited
	wall    time.Time
	due     time.Time
	moment  time.Duration // elapsed; when it was to come
	missed  bool          // its row says so: a clock stepped over it
	done    int           // the turn in which it was kept, taken back or ended; 0 before
	again   bool
	instead time.Duration // elapsed; when a flood by elapsed time was left out
	stood   int           // the turn in which that stood for a slot; 0 before
	early   time.Time     // its row stands already, for a flood that is due then
	vague   bool          // an outage may have taken its flood
}

// tapped is the last act on a flood that means the same when it comes twice.
type tapped struct {
	act string
	at  time.Duration
}

// doubleTap is within which time that is so.
const doubleTap = time.Minute

// again notes an act, and reports whether it means the one before.
func (k *told) again(act string, now time.Duration) bool {
	same := k.tap.act == act && now-k.tap.at < doubleTap
	if !same {
		k.tap = tapped{act, now}
	}
	return same
}

type halted struct {
	on     bool
	now    bool // the pump has to be off in the next turn
	at     time.Duration
	id     int64
	wall   time.Time
	waited bool // something was in the queue
}

func newOracle(m *modelSite) *oracle {
	s := m.layout.setup()
	return &oracle{
		m: m, benches: make([]told, len(s.Limits.Benches)), calendar: s.Calendar, batches: s.Batches,
		due: map[schedule.Slot]coming{}, ended: map[int64]controller.Flood{}, ran: map[int64]stretch{},
		only: *onlyRule,
	}
}

// breaks notes the first promise that was broken.
func (o *oracle) breaks(rule, format string, args ...any) {
	if o.broken == "" && (o.only == "" || o.only == rule) {
		o.rule, o.broken = rule, fmt.Sprintf(format, args...)
	}
}

func (o *oracle) name(b int) string { return benchNames[b] }

// Turn looks at one turn, after the board was driven.
func (o *oracle) Turn(t *loop.Turn) {
	o.m.loopStatus(&o.status)
	o.logged = 0
	o.followClock(t.Now)
	for i := range t.Events {
		o.hear(&t.Events[i])
	}
	for b := range o.benches {
		o.watch(b)
		o.compare(b)
	}
	if o.handsIn.is() != o.status.HandsIn && !o.handsIn.unsure {
		o.breaks("hands-in", "hands-in is shown as %v, and a person was told %v", o.status.HandsIn, o.handsIn.on)
	}
	if t.Now.Trusted && o.unknown > 0 {
		o.measured, o.unknown = o.unknown, 0
	}
	o.last, o.lastAt, o.lastWrong = t.Now, o.m.elapsed, o.m.wrong
}

// followClock follows the wall clock and what waits for water.
func (o *oracle) followClock(now safety.Now) {
	passed := o.m.elapsed - o.lastAt
	for b := range o.benches {
		k := &o.benches[b]
		k.least, k.most = k.least+passed, k.most+passed
	}
	step := (now.Wall.Sub(o.last.Wall) - passed).Abs()
	for b := range o.benches { // a word that holds from a day on may hold from another
		k := &o.benches[b]
		k.murky = k.murky || step > 6*time.Hour && (len(o.batches[b].Passages) > 0 || k.closed.on)
	}
	if step > 2*time.Second {
		o.disturbed, o.jumped = o.m.elapsed, o.m.elapsed
	}
	if now.Trusted != o.last.Trusted {
		o.disturbed = o.m.elapsed
	}
	if !now.Trusted {
		return
	}
	if from := now.Wall.Add(o.first - o.m.elapsed); o.origin.IsZero() || from.Before(o.origin) {
		o.origin = from
	}
	switch {
	case !o.seen.ok:
		o.newest = now.Wall
	case now.Wall.After(o.newest): // what passes for a second time has had its row
		o.expect(o.newest, now.Wall)
		o.newest = now.Wall
	}
	o.seen = sighting{at: o.m.elapsed, wall: now.Wall, wrong: o.m.wrong, ok: true}
}

// watch looks at the pump of one bench.
func (o *oracle) watch(b int) {
	k, m := &o.benches[b], o.m
	on := m.pumps(b)
	if on && o.handsIn.is() {
		o.breaks("hands-in", "the pump of %s is on under hands-in", o.name(b))
	}
	if on && k.halt.now {
		o.breaks("stop", "the pump of %s is still on after a stop", o.name(b))
	}
	k.halt.now = false
	full := m.tables[b].level >= m.tables[b].full
	switch {
	case on && !k.pump:
		k.pump, k.flood, k.full, k.stood = true, o.status.Benches[b].Flood, never, 0
		o.starts(b)
	case !on && k.pump:
		k.pump = false
		if k.full != never {
			k.stood = m.elapsed - k.full
		}
		o.stops(b)
	}
	if k.pump && full && k.full == never {
		k.full = m.elapsed
	}
}

// starts judges a pump circuit that closes.
func (o *oracle) starts(b int) {
	k, m, f := &o.benches[b], o.m, &o.benches[b].flood
	automatic := f.Cause != controller.ByHand
	r := o.ran[f.ID]
	r.runs, r.began = r.runs+1, m.elapsed
	o.ran[f.ID] = r
	if k.latched.is() {
		o.breaks("latch", "%s is latched, and its pump starts", o.name(b))
	}
	if automatic && k.sanitising.is() {
		o.breaks("sanitise", "%s is being sanitised, and floods by itself", o.name(b))
	}
	if automatic && k.closed.is() {
		o.breaks("closed", "nothing stands on %s any more, and it floods by itself", o.name(b))
	}
	if p := &k.pause; automatic && p.is() && m.elapsed < p.until-p.early-time.Second && !(m.trusted && !m.Now().Wall.Before(p.wall)) {
		o.breaks("pause", "%s is paused for another %s, and floods by itself", o.name(b), p.until-m.elapsed)
	}
	for other := range o.benches {
		same := m.limits.Benches[other].Reservoir == m.limits.Benches[b].Reservoir
		if other != b && same && (m.pumps(other) || !o.benches[other].latched.on && m.out(other)) {
			o.breaks("turns", "the pump of %s starts while water of %s is out", o.name(b), o.name(other))
		}
	}
	o.startsAfterStop(b)
	o.startsAfterSkip(b)
	o.startsTooSoon(b)
}

// startsAfterStop: after a stop no pump goes on until something new was asked
// or is due.
func (o *oracle) startsAfterStop(b int) {
	k, f := &o.benches[b], &o.benches[b].flood
	for _, a := range k.asks {
		if a.id == f.ID && a.stopped {
			o.breaks("stop", "the flood by hand on %s was stopped, and starts", o.name(b))
		}
	}
	h := &k.halt
	if h.on && h.id == f.ID && f.ID != 0 {
		o.breaks("stop", "the flood of %s was stopped, and starts again", o.name(b))
	}
	waited := h.waited && (f.Due.Before(h.wall) || f.HasSlot && f.Due.Equal(h.wall))
	if h.on && waited && f.Cause != controller.ByHand && o.disturbed < h.at {
		o.breaks("stop", "what waited for %s was stopped, and starts", o.name(b))
	}
	h.on = false
}

// startsAfterSkip: the first planned flood after a skip is left out.
func (o *oracle) startsAfterSkip(b int) {
	f := &o.benches[b].flood
	if f.Cause != controller.BySchedule && f.Cause != controller.ByElapsed {
		return
	}
	for _, s := range o.benches[b].skips {
		if !s.early.IsZero() && o.m.trusted && !s.early.After(o.m.Now().Wall) {
			s.done = o.m.storage.turn
		}
		known := s.before.ID == f.ID || s.queued && !f.Due.After(s.wall)
		another := o.jumped >= s.at && o.m.elapsed > s.moment+heldFor && s.hasSlot && s.due.Before(f.Due)
		if s.done != 0 || s.vague || known || another {
			continue
		}
		o.breaks("skip", "the next flood of %s was skipped %s ago, and that of %s starts (%s)", o.name(b), o.m.elapsed-s.at, o.local(f.Due), f.Cause)
	}
}

// startsTooSoon: going from the calendar to elapsed time and back doubles
// nothing.
func (o *oracle) startsTooSoon(b int) {
	k, f := &o.benches[b], &o.benches[b].flood
	if !k.watered || o.jumped >= k.counted {
		return
	}
	since := o.m.elapsed - k.counted
	if f.Cause == controller.ByElapsed && f.Attempt == 0 && since < o.intervals(b, false)/2-slack {
		o.breaks("double", "%s was flooded %s ago, and floods by elapsed time", o.name(b), since)
	}
}

// slack is what fill, hold and the turns of other benches take.
const slack = 45 * time.Minute

// stops judges a pump circuit that opens.
func (o *oracle) stops(b int) {
	k := &o.benches[b]
	r := o.ran[k.flood.ID]
	r.stood = k.stood
	o.ran[k.flood.ID] = r
	if o.counts(b) {
		k.counted, k.countedIn, k.watered, k.least, k.most, k.spoken, k.failed = o.m.elapsed, o.m.storage.turn, true, 0, 0, false, false
	}
}

// counts reports whether the run that has just ended watered the crop.
func (o *oracle) counts(b int) bool {
	k := &o.benches[b]
	if k.sanitising.on {
		return false
	}
	if o.m.limits.Benches[b].Full {
		return k.full != never && k.stood >= k.flood.Hold/2
	}
	return !k.halt.on && !o.handsIn.on
}

func (o *oracle) local(t time.Time) string { return t.In(dublin).Format("Mon 2 Jan 2006 15:04") }
