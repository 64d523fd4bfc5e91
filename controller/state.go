package controller

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// State is all of a controller that must survive a restart. Benches and
// batches go by name, so that an edited file keeps what still fits.
type State struct {
	Boot    string        `json:"boot,omitzero"` // identity of the boot that Mono belongs to
	Mono    time.Duration `json:"mono,omitzero"`
	Wall    time.Time     `json:"wall,omitzero"`
	Trusted bool          `json:"trusted,omitzero"`
	Known   time.Time     `json:"known,omitzero"`    // the newest trusted wall time
	KnownAt time.Duration `json:"known_at,omitzero"` // the boot-time clock then
	Anchor  time.Time     `json:"anchor,omitzero"`   // the trusted wall time before outages whose length is not known yet; zero without them
	Far     time.Time     `json:"far,omitzero"`      // how far the trusted wall clock had come
	Before  time.Time     `json:"before,omitzero"`   // what the wall clock would have read at boot-time 0 had it not been set back last

	NextID  int64                 `json:"next_id,omitzero"`
	Benches map[string]BenchState `json:"benches,omitzero"`
	Crops   map[string]CropState  `json:"crops,omitzero"`
	Open    []Flood               `json:"open,omitzero"`   // floods without an outcome
	Silent  []string              `json:"silent,omitzero"` // reservoirs of whose thermometers a person was told
	Tanks   map[string]tank       `json:"tanks,omitzero"`
	Advised map[string]time.Time  `json:"advised,omitzero"` // when advice was told last, by cause
}

// BenchState is what survives of one bench.
type BenchState struct {
	Base    schedule.Civil   `json:"base,omitzero"`
	Cursor  schedule.Civil   `json:"cursor,omitzero"`
	HasSlot bool             `json:"has_slot,omitzero"`
	Before  Stretch          `json:"before,omitzero"` // base and cursor before the clock was set back last
	Lived   []Stretch        `json:"lived,omitzero"`
	Skips   []Skip           `json:"skips,omitzero"`
	LeftOut []schedule.Civil `json:"left_out,omitzero"`
	Tap     Tap              `json:"tap,omitzero"`
	Stands  []Stand          `json:"stands,omitzero"`
	Relived schedule.Civil   `json:"relived,omitzero"` // of records without lived: all slots up to it
	Skipped schedule.Civil   `json:"skipped,omitzero"` // of records without left_out: the last one, whose row may be of a slot to come

	PauseUntil  time.Time     `json:"pause_until,omitzero"`
	PauseLeft   time.Duration `json:"pause_left,omitzero"`
	PauseBy     string        `json:"pause_by,omitzero"`
	Sanitising  time.Time     `json:"sanitising,omitzero"` // since when; zero while it is off
	SanitisedBy string        `json:"sanitised_by,omitzero"`
	Baseline    bool          `json:"baseline,omitzero"`
	LastProven  time.Time     `json:"last_proven,omitzero"`
	Last        Flood         `json:"last,omitzero"`

	// On the boot-time clock, but for GapOpen and GapAssumed; 0 where there is none.
	ElapsedFrom     time.Duration `json:"elapsed_from,omitzero"`
	ProvenAt        time.Duration `json:"proven_at,omitzero"`
	StoppedNear     time.Duration `json:"stopped_near,omitzero"`
	PauseMade       time.Duration `json:"pause_made,omitzero"`
	SanitisingAt    time.Duration `json:"sanitising_at,omitzero"`
	SanitisingNudge time.Duration `json:"sanitising_nudge,omitzero"`
	GapOpen         bool          `json:"gap_open,omitzero"`
	GapAnchor       time.Duration `json:"gap_anchor,omitzero"`
	GapEdge         time.Duration `json:"gap_edge,omitzero"`
	GapAssumed      time.Duration `json:"gap_assumed,omitzero"`
	GapLater        []Lapse       `json:"gap_later,omitzero"`

	Thirst thirst `json:"thirst,omitzero"`
	Slow   slow   `json:"slow,omitzero"`

	Usual []usual `json:"usual,omitzero"`
}

// CropState is what survives of one crop clock.
type CropState struct {
	Since   time.Duration `json:"since,omitzero"`
	Trouble bool          `json:"trouble,omitzero"`
	Dry     bool          `json:"dry,omitzero"`
	Level   int           `json:"level,omitzero"`
	NoFlood bool          `json:"no_flood,omitzero"`
	Use     float64       `json:"use,omitzero"` // see Learnt

	Transplanted schedule.Date      `json:"transplanted,omitzero"` // which batch of this name it is
	Said         []Said             `json:"said,omitzero"`
	Closed       schedule.Date      `json:"closed,omitzero"` // by a person's word; 0 without one
	Passages     []schedule.Passage `json:"passages,omitzero"`
	Stage        int                `json:"stage,omitzero"`
	Offered      int                `json:"offered,omitzero"`
}

// Dirty reports whether State has changed in a way that matters across a
// restart since it was last taken.
func (c *Controller) Dirty() bool { return c.dirty }

// State returns a copy of all that must survive a restart.
func (c *Controller) State(boot string) (st State) {
	c.StateInto(&st, boot)
	return st
}

// StateInto makes st that copy, in the room that st already has.
func (c *Controller) StateInto(st *State, boot string) {
	c.dirty = false
	st.Boot, st.Mono, st.Wall, st.Trusted = boot, c.now.Mono, c.now.Wall, c.now.Trusted
	c.clock.store(st)
	st.Anchor, st.Advised = c.outage.anchor, maps.Clone(c.advised)
	st.NextID, st.Open = c.nextID, st.Open[:0]
	st.Silent = append(st.Silent[:0], c.silent...)
	if st.Benches == nil {
		st.Benches = make(map[string]BenchState, len(c.benches))
		st.Crops = make(map[string]CropState, len(c.crops))
	}
	if st.Tanks == nil {
		st.Tanks = make(map[string]tank, len(c.tanks))
	}
	for k := range c.tanks {
		st.Tanks[c.setup.Limits.Reservoirs[k].Name] = c.tanks[k]
	}
	for b := range c.benches {
		s := &c.benches[b]
		st.Benches[c.name(b)] = c.benchState(s)
		if s.phase != Rest {
			st.Open = append(st.Open, s.run.flood)
		}
		for i := range s.queue {
			st.Open = append(st.Open, s.queue[i].flood)
		}
		st.Open = append(st.Open, s.parked...)
	}
	for i := range c.crops {
		k := &c.crops[i]
		b, stands := &c.setup.Batches[i], &c.progress[i]
		st.Crops[b.Name] = CropState{
			Since: k.since, Trouble: k.trouble, Dry: k.dry, Level: k.level, NoFlood: k.noFlood, Use: c.pots[i].use,
			Transplanted: b.Transplanted, Closed: stands.closed, Passages: b.Passages, Stage: stands.stage, Offered: stands.offered, Said: slices.Clone(stands.said),
		}
	}
}

func (c *Controller) benchState(s *bench) BenchState {
	k := BenchState{
		Base: s.base, Cursor: s.cursor, HasSlot: s.hasSlot, Before: s.before, Lived: slices.Clone(s.lived),
		Skips: slices.Clone(s.skips), LeftOut: slices.Clone(s.leftOut), Tap: s.tap, Stands: slices.Clone(s.stands),
		LastProven: s.lastProven, Last: s.last, ElapsedFrom: s.elapsedFrom, ProvenAt: s.provenAt, StoppedNear: s.stoppedNear,
		SanitisingAt: s.sanitising.at, SanitisingNudge: s.sanitising.nudge,
		GapOpen: s.gap.open, GapAnchor: s.gap.anchor, GapEdge: s.gap.edge, GapAssumed: s.gap.assumed,
		GapLater: slices.Clone(s.gap.later),
	}
	k.Thirst, k.Slow, k.Usual = s.thirst, s.slow, s.usual // a usual that changes is a new slice
	k.Sanitising, k.SanitisedBy, k.Baseline = s.sanitising.since, s.sanitising.by, s.baseline
	if s.pause.on {
		k.PauseUntil, k.PauseLeft, k.PauseBy, k.PauseMade = s.pause.untilWall, s.pause.until-c.now.Mono, s.pause.by, s.pause.made
	}
	return k
}

// Resume returns a controller that goes on after a restart from st, the State
// stored last, in the boot named boot. Floods that were under way are
// interrupted; slots that came due meanwhile are flooded late or missed; one
// catch-up flood is queued where a crop could not wait for its next slot.
func Resume(s Setup, now safety.Now, st State, boot string) (*Controller, error) {
	c, err := New(s, now)
	if err != nil {
		return nil, err
	}
	c.nextID = max(st.NextID, 1)
	c.resumed = true
	c.resumeThermometers(st.Silent)
	c.advised = maps.Clone(st.Advised)
	gap, known := st.outage(now, boot)
	c.clock.resume(&st, now, gap, known)
	c.outage = outage{was: true, from: st.Wall, anchor: st.anchor(known), length: gap, trusted: st.Trusted && st.Anchor.IsZero(), resumed: now.Mono, to: now.Wall}
	c.outage.known = known && c.outage.anchor.IsZero()
	c.resumeParts(&st, gap, known)
	if now.Trusted { // the clock may have been set meanwhile
		if step := now.Wall.Sub(st.Wall) - gap; !known || !st.Trusted || step.Abs() <= stepLimit || !c.stepUndone(step) {
			c.rearm()
		}
		c.measureOutage()
	}
	if c.outage.known || now.Trusted { // what a trusted clock cannot tell now, it never will
		c.tellOfOutage()
	}
	switch {
	case now.Trusted:
		c.dateAgain()
	case c.clock.guesses():
		c.dateWords() // today is what the clock shows, and that may be another clock
	}
	for i := range st.Open {
		c.resumeFlood(st.Open[i])
	}
	c.dirty = true
	return c, nil
}

// resumeParts goes on from what is stored of batches, reservoirs, benches and crops.
func (c *Controller) resumeParts(st *State, gap time.Duration, known bool) {
	for i := range c.setup.Batches {
		c.resumeBatch(i, *st)
	}
	for k := range c.tanks {
		c.resumeTank(k, *st)
	}
	for b := range c.benches {
		c.resumeBench(b, st, gap, known)
	}
	for i := range c.crops {
		c.resumeCrop(i, st, gap, known)
	}
}

// outage is how long the program was away, and whether that is known: by the
// boot-time clock in the same boot, else by the wall clock when both its
// readings were trusted.
func (st *State) outage(now safety.Now, boot string) (time.Duration, bool) {
	switch {
	case boot != "" && boot == st.Boot && now.Mono >= st.Mono:
		return now.Mono - st.Mono, true
	case st.Trusted && now.Trusted && !now.Wall.Before(st.Wall):
		return now.Wall.Sub(st.Wall), true
	}
	return 0, false
}

// anchor is the trusted wall time to measure outages of unknown length from,
// this one included; zero when there is none, or nothing to measure by.
func (st *State) anchor(known bool) time.Time {
	if known || !st.Anchor.IsZero() {
		return st.Anchor
	}
	return st.Known
}

func (c *Controller) resumeBench(b int, st *State, gap time.Duration, known bool) {
	k, ok := st.Benches[c.name(b)]
	if !ok {
		return
	}
	s := &c.benches[b]
	s.restore(&k)
	s.last.Bench = b
	if !known {
		gap = c.interval(b)
		c.openGap(b, st, gap)
	}
	s.thirst, s.slow, s.usual = k.Thirst, k.Slow, k.Usual
	c.rebase(b, st.Mono, gap)
	if known {
		c.lapse(b)
	}
	c.resumePause(b, &k, st.Mono, gap, known)
	if s.sanitising.at == 0 {
		s.sanitising.nudge = c.now.Mono + sanitisingEvery
	}
}

// restore takes over what is stored of a bench, its clock readings as they were counted
// then.
func (s *bench) restore(k *BenchState) {
	s.base, s.cursor, s.hasSlot, s.before, s.lived = k.Base, k.Cursor, k.HasSlot, k.Before, slices.Clone(k.Lived)
	s.skips, s.leftOut, s.tap, s.stoppedNear, s.stands = slices.Clone(k.Skips), slices.Clone(k.LeftOut), k.Tap, k.StoppedNear, slices.Clone(k.Stands)
	for i := range s.skips {
		if k := &s.skips[i]; !k.Nameless { // of records without named
			k.Named = cmp.Or(k.Named, k.Slot)
		}
	}
	if k.Relived != 0 {
		s.live(Stretch{0, k.Relived})
	}
	if k.Skipped != 0 {
		s.rememberLeftOut(k.Skipped)
	}
	if s.last = k.Last; OnRecord(s.last.Outcome, s.last.Reason) == Skipped {
		s.last = Flood{}
	}
	s.lastProven, s.provenAt, s.elapsedFrom, s.baseline = k.LastProven, k.ProvenAt, k.ElapsedFrom, k.Baseline
	s.gap = gap{open: k.GapOpen, assumed: k.GapAssumed, anchor: k.GapAnchor, edge: k.GapEdge, later: slices.Clone(k.GapLater)}
	s.sanitising = sanitising{since: k.Sanitising, by: k.SanitisedBy, at: k.SanitisingAt, nudge: k.SanitisingNudge}
}

// openGap notes an outage of unknown length that counts as an interval.
func (c *Controller) openGap(b int, st *State, interval time.Duration) {
	g := &c.benches[b].gap
	if c.outage.anchor.IsZero() {
		*g = gap{}
		c.benches[b].forgetStandsBefore(safety.Never)
		return
	}
	g.assumed += interval
	if g.open {
		g.lapsed(Lapse{End: st.Mono + interval, Assumed: interval})
		return
	}
	g.open, g.edge, g.anchor = true, st.Mono+interval, st.KnownAt
	if st.KnownAt == 0 {
		g.anchor = st.Mono
	}
}

// resumePause goes on with a pause, whose end an outage of unknown length does
// not bring nearer.
func (c *Controller) resumePause(b int, k *BenchState, ended, gap time.Duration, known bool) {
	left := k.PauseLeft
	if known {
		left -= gap
	}
	if left > 0 {
		c.benches[b].pause = pause{on: true, until: c.now.Mono + left, untilWall: k.PauseUntil, made: c.now.Mono - gap - (ended - k.PauseMade), by: k.PauseBy}
	}
}

// resumeCrop goes on with a crop clock, as if it had run on.
func (c *Controller) resumeCrop(i int, st *State, gap time.Duration, known bool) {
	k, ok := st.Crops[c.setup.Batches[i].Name]
	if !ok {
		return
	}
	if !known {
		gap = c.interval(c.setup.Batches[i].Bench)
	}
	c.crops[i] = cropClock{since: k.Since, trouble: k.Trouble, dry: k.Dry, level: k.Level, noFlood: k.NoFlood}
	by := c.now.Mono - gap - st.Mono
	c.cropClockReadings(i, func(m clockReading) { *m.at += by })
	c.pots[i].use = k.Use
}

// interval is the time between two floods of bench b's present stage: what an
// outage of unknown length counts as.
func (c *Controller) interval(b int) time.Duration {
	if p, ok := c.governing(b); ok {
		return intervalOf(p)
	}
	return 24 * time.Hour
}

// intervalOf is the time between two floods of a day's rule, also on the days that
// a stage leaves out; on another day without a flood, what its crop can wait.
func intervalOf(p schedule.Planned) time.Duration {
	if p.Apart > 0 {
		return p.Apart
	}
	if p.PerDay > 0 {
		return 24 * time.Hour / time.Duration(p.PerDay)
	}
	return p.CanWait
}

// resumeFlood settles a flood that had no outcome at the restart, or puts it
// back into its queue. Its bench goes by index: storage has moved it to that of
// the bench's name in this setup.
func (c *Controller) resumeFlood(f Flood) {
	if f.Bench < 0 || f.Bench >= len(c.benches) {
		return
	}
	j := job{flood: f, ready: c.now.Mono}
	switch {
	case !f.Started.IsZero():
		j.flood.Ended = c.now.Wall
		c.closeRun(&j.flood, Interrupted, "the program or its power ended it")
	case f.Intended: // a start that did not reach storage; flooding again might flood twice
		j.flood.Ended = c.now.Wall
		c.closeRun(&j.flood, Interrupted, "the program or its power ended it when its pump was to start")
	case f.HasSlot && c.clock.calendar():
		j.deadline = c.monoOf(c.deadline(f.Bench, f.Slot, f.Due))
		if j.deadline <= c.now.Mono {
			c.closeUnrun(&j, Missed, c.clock.away)
			return
		}
		c.benches[f.Bench].queue = append(c.benches[f.Bench].queue, j)
	case f.HasSlot:
		c.benches[f.Bench].parked = append(c.benches[f.Bench].parked, f)
	case f.Cause == ByElapsed && !c.clock.calendar(): // its time has come all the same
		j.byRate, j.deadline = true, c.now.Mono+queueFor
		j.ready += c.stirAhead(f.Bench)
		c.benches[f.Bench].queue = append(c.benches[f.Bench].queue, j)
	default:
		c.closeUnrun(&j, Missed, c.clock.away)
	}
}

// unpark settles or queues the slots that waited for a trusted clock.
func (c *Controller) unpark() {
	for b := range c.benches {
		parked := c.benches[b].parked
		c.benches[b].parked = nil
		for _, f := range parked {
			c.resumeFlood(f)
		}
	}
}
