package controller

import (
	"slices"
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// Controller carries out the floods of one site. Use New or Resume, then one
// Step a turn. It is not safe for concurrent use.
type Controller struct {
	setup   Setup
	want    *safety.Want
	benches []bench
	drawing [][]int // by reservoir: the benches on it
	crops   []cropClock
	events  []Event
	clock   clockWatch
	nextID  int64
	dirty   bool
	outage  outage
	resumed bool // the first turn after a restart: look whether the crops need a catch-up flood

	now  safety.Now
	view *safety.View
	wake time.Duration

	handsIn      bool
	handsInNudge time.Duration
	lowTold      []bool   // by reservoir: a person was told that it is low
	silent       []string // reservoirs of which a person was told that the thermometer says nothing
	tanks        []tank   // by reservoir
	lamp, horn   bool     // of the alarms

	filed    []schedule.Batch     // as the file has them; those in force are the setup's
	progress []progress           // by batch
	pots     []pots               // by batch
	stagesOn schedule.Date        // the stages of the batches were looked at on it
	advised  map[string]time.Time // when advice was told last, by cause
	asks     bool                 // some batch waits for a person's word to enter a stage
}

// bench is what the controller knows of one bench.
type bench struct {
	base     schedule.Civil // slots from here to cursor had their turn since the clock was last set back
	cursor   schedule.Civil // slots up to here are taken up or settled
	hasSlot  bool           // cursor is set
	before   Stretch        // base and cursor before the clock was set back last
	lived    []Stretch      // slots that had their outcome before the clock was set back
	next     schedule.Planned
	hasNext  bool
	nextRead bool // next is valid for cursor

	skips       []Skip           // floods to come that a person wants left out
	leftOut     []schedule.Civil // slots that a person left out last, should they come again
	tap         Tap
	stoppedNear time.Duration // boot-time clock at which a person at the bench stopped it last; 0 where none has
	stands      []Stand       // what stands for slots that are not taken up yet

	missed missed  // slots that a person is still to be told of
	queue  []job   // floods that are due, in order
	owed   bool    // one that was due never started, for a reason that may pass by itself
	parked []Flood // slots that were queued at a restart and wait for a trusted clock
	phase  Phase
	run    run // the flood under way; meaningful unless phase is Rest

	pause       pause
	sanitising  sanitising
	baseline    bool // its next proven flood is the first after rinsing
	wasLatched  bool
	slowStorage bool  // its last flood ran without a record, and a person was told
	last        Flood // the last flood that ended
	lastProven  time.Time
	provenAt    time.Duration // boot-time clock of lastProven; 0 where that is not known
	elapsedFrom time.Duration // the elapsed-time plan counts from here
	gap         gap
	thirst      thirst
	slow        slow
	usual       []usual
}

// Phase is where a bench is in its flood cycle.
type Phase uint8

// The phases of the flood cycle.
const (
	Rest Phase = iota
	Recording
	Filling
	Holding
	Draining
)

func (p Phase) String() string {
	return [...]string{"rest", "recording", "filling", "holding", "draining"}[p]
}

// New returns a controller for a first start: crops count as watered now, and
// no slot before now is due.
func New(s Setup, now safety.Now) (*Controller, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	if s.RecordGrace == 0 {
		s.RecordGrace = DefaultRecordGrace
	}
	c := &Controller{
		setup:   s,
		want:    safety.NewWant(s.Limits),
		benches: make([]bench, len(s.Limits.Benches)),
		crops:   make([]cropClock, len(s.Batches)),
		lowTold: make([]bool, len(s.Limits.Reservoirs)),
		tanks:   make([]tank, len(s.Limits.Reservoirs)),
		drawing: make([][]int, len(s.Limits.Reservoirs)),
		nextID:  1,
		now:     now,

		filed:    s.Batches,
		progress: make([]progress, len(s.Batches)),
		pots:     make([]pots, len(s.Batches)),
	}
	c.setup.Batches = slices.Clone(s.Batches)
	c.clock.begin(now)
	for k := range c.tanks {
		c.tanks[k].Basis, c.tanks[k].Since = Unknown, now.Wall
	}
	for i := range c.benches {
		c.benches[i].elapsedFrom = now.Mono
		r := c.limits(i).Reservoir
		c.drawing[r] = append(c.drawing[r], i)
	}
	for i := range c.crops {
		c.crops[i] = cropClock{since: now.Mono, noFlood: true}
		c.progress[i] = progress{stage: c.stageNow(i), offered: noStage}
		c.asks = c.asks || s.Batches[i].Asked
		s.Calendar.Change(i, s.Batches[i].Closed, s.Batches[i].Passages)
	}
	return c, nil
}

// Step is one turn: it looks at the view and says what is wanted. The Want is
// reused by the next Step.
func (c *Controller) Step(now safety.Now, v *safety.View) *safety.Want {
	c.now, c.view, c.wake = now, v, safety.Never
	c.clearWant()
	c.watchClock()
	c.watchHandsIn()
	c.watchStages()
	for b := range c.benches {
		c.endPause(b)
		c.watchSanitising(b)
		c.watchLatch(b)
		c.takeUp(b)
		c.advance(b)
		c.settleOverdue(b)
	}
	if c.resumed {
		c.resumed = false
		c.reconsider()
	}
	for b := range c.benches {
		c.makeUp(b)
	}
	c.grant()
	for b := range c.benches {
		c.wish(b)
	}
	c.stir()
	c.switchOthers()
	c.watchReservoirs()
	c.watchThermometers()
	c.watchCrops()
	return c.want
}

// Next says when, on the boot-time clock, the controller next has something to
// do by itself.
func (c *Controller) Next() time.Duration { return c.wake }

// TakeEvents returns what happened since the last call. The slice is reused.
func (c *Controller) TakeEvents() []Event {
	e := c.events
	c.events = c.events[:0]
	return e
}

func (c *Controller) clearWant() {
	clear(c.want.Benches)
	clear(c.want.Stir)
	clear(c.want.Other)
}

// wakeAt asks for a turn at t at the latest; a time that is past asks for none.
func (c *Controller) wakeAt(t time.Duration) {
	if t > c.now.Mono {
		c.wake = min(c.wake, t)
	}
}

// wakeSoon asks for a turn at once.
func (c *Controller) wakeSoon() { c.wake = c.now.Mono }

// wakeAtWall asks for a turn when the wall clock reads t.
func (c *Controller) wakeAtWall(t time.Time) { c.wakeAt(c.monoOf(t)) }

// monoOf is the boot-time clock when the wall clock will read t, should it not
// step.
func (c *Controller) monoOf(t time.Time) time.Duration {
	return c.now.Mono + t.Sub(c.now.Wall)
}

func (c *Controller) emit(e Event) {
	e.At = c.now
	c.events = append(c.events, e)
}

func (c *Controller) emitFlood(k EventKind, f *Flood) {
	c.emit(Event{Kind: k, Bench: f.Bench, Output: -1, Flood: *f})
	c.dirty = true
}

func (c *Controller) tell(u Urgency, bench int, cause string, p Parts) {
	c.send(Message{Urgency: u, Bench: bench, Cause: cause, Text: p.Text(), Parts: p})
}

// tellGone tells that the cause of earlier messages is no more.
func (c *Controller) tellGone(u Urgency, bench int, cause string, p Parts) {
	c.send(Message{Urgency: u, Bench: bench, Cause: cause, Text: p.Text(), Parts: p, Gone: true})
}

func (c *Controller) send(m Message) {
	m.By = c.waitsUntil(m.Bench)
	c.emit(Event{Kind: MessageSent, Bench: m.Bench, Output: -1, Message: m})
}

func (c *Controller) limits(b int) *safety.BenchLimits { return &c.setup.Limits.Benches[b] }

func (c *Controller) name(b int) string { return c.setup.Limits.Benches[b].Name }

// called is what people call bench b; so are tank and plants.
func (c *Controller) called(b int) string { return c.setup.Titles.Bench(c.name(b)) }

func (c *Controller) tank(k int) string {
	return c.setup.Titles.Reservoir(c.setup.Limits.Reservoirs[k].Name)
}

func (c *Controller) plants(i int) string { return c.setup.Titles.Batch(c.setup.Batches[i].Name) }

// local prints a wall time as a person on site reads it.
func (c *Controller) local(t time.Time) string {
	return t.In(c.setup.Calendar.Zone()).Format("Mon 2 Jan 15:04")
}
