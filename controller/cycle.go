package controller

import (
	"slices"
	"time"

	"benchtide/safety"
)

// run is the flood under way on a bench.
type run struct {
	job
	granted  time.Duration // when the arbiter granted it
	recorded bool          // storage acknowledged the intention
	buzz     time.Duration // the buzzer sounds until then
	started  time.Duration // when the pump was first wished for in this attempt
	wished   bool          // the guard has seen the wish for this attempt's pump
	person   string        // who or what ended it early
	seenFull bool
	lacked   Drunk // what the pots lacked when FULL was made
	seenStop bool
}

// begin grants the flood at the head of bench b's queue: its intention goes to
// the ledger and the buzzer sounds.
func (c *Controller) begin(b int) {
	s := &c.benches[b]
	j := s.queue[0]
	s.queue = slices.Delete(s.queue, 0, 1)
	j.refusal = safety.Refusal{}
	j.flood.Intended = true
	if j.outcome != "" {
		j.flood.Attempt++
		j.outcome, j.reason = "", ""
	}
	j.flood.Watched = c.view.Benches[b].Watched || s.baseline
	s.run = run{job: j, granted: c.now.Mono, buzz: c.now.Mono}
	if c.setup.Buzzer >= 0 && j.flood.Cause != ByHand {
		s.run.buzz += c.setup.BuzzBefore
	}
	s.phase = Recording
	c.emitFlood(FloodIntended, &j.flood)
	c.awaitRecord(b)
}

// Recorded tells the controller that storage has acknowledged the intention of
// an attempt.
func (c *Controller) Recorded(flood int64, attempt int) {
	for b := range c.benches {
		s := &c.benches[b]
		if s.phase == Recording && s.run.flood.ID == flood && s.run.flood.Attempt == attempt {
			s.run.recorded = true
			c.wakeSoon()
		}
	}
}

// advance moves the flood under way on bench b on by what the view shows.
func (c *Controller) advance(b int) {
	switch c.benches[b].phase {
	case Recording:
		c.awaitRecord(b)
	case Filling, Holding:
		c.follow(b)
	case Draining:
		c.awaitGone(b)
	}
}

// awaitRecord starts the pump once the intention is on record, or storage has
// had its time, and the buzzer has sounded. A refusal meanwhile sends the
// flood back to the queue.
func (c *Controller) awaitRecord(b int) {
	s := &c.benches[b]
	if r := c.refusal(b, &s.run.job); r.Refused() {
		c.requeue(b, r)
		return
	}
	grace := s.run.granted + c.setup.RecordGrace
	if c.now.Mono < s.run.buzz {
		c.wakeAt(s.run.buzz)
		return
	}
	if !s.run.recorded && c.now.Mono < grace {
		c.wakeAt(grace)
		return
	}
	if !s.run.recorded {
		s.run.flood.Unrecorded = true
		c.tellOfSlowStorage(b)
	}
	s.slowStorage = !s.run.recorded
	s.phase, s.run.started = Filling, c.now.Mono
	if s.run.flood.Started.IsZero() {
		s.run.flood.Started = c.now.Wall
	}
	c.emitFlood(PumpStarted, &s.run.flood)
	c.wakeSoon()
}

// tellOfSlowStorage tells of the first flood in a row that runs without a record;
// a person who knows learns nothing of the next ones.
func (c *Controller) tellOfSlowStorage(b int) {
	if c.benches[b].slowStorage {
		return
	}
	c.tell(Urgent, b, "unrecorded", Parts{
		Happened: c.called(b) + ": storage did not answer, so this flood runs without a record.",
		Done:     "The bench goes on from memory.", Do: "Look at the storage today.",
	})
}

// requeue sends a granted flood whose pump has not run in this attempt back to
// the head of the queue.
func (c *Controller) requeue(b int, r safety.Refusal) {
	s := &c.benches[b]
	j := s.run.job
	if j.flood.Attempt > 0 {
		j.flood.Attempt--
		j.outcome, j.reason = Unproven, j.flood.Reason
	} else if c.view.Benches[b].Flood != j.flood.ID {
		j.flood.Started, j.flood.Intended = time.Time{}, false
	}
	s.queue = slices.Insert(s.queue, 0, j)
	s.phase = Rest
	c.noteRefusal(b, &s.queue[0], r)
}

// follow watches a run until its pump stops.
func (c *Controller) follow(b int) {
	s, v := &c.benches[b], &c.view.Benches[b]
	if v.Flood != s.run.flood.ID || v.Attempt != s.run.flood.Attempt {
		if s.run.wished { // the guard did not let it start after all
			c.requeue(b, v.Start)
		}
		return
	}
	if v.FullAt != 0 && !s.run.seenFull {
		s.run.seenFull, s.phase = true, Holding
		s.run.flood.Fill = v.FullAt - v.Started
		c.emitFlood(FullMade, &s.run.flood)
		c.weighFill(b, v)
	}
	if v.Trip.Interlock != "" || s.run.person != "" || !v.Pump || c.due(b, v) {
		s.phase = Draining
		c.wakeSoon()
	}
}

// due reports whether the run has had what it came for, and asks for a turn
// when it will.
func (c *Controller) due(b int, v *safety.BenchView) bool {
	l, s := c.limits(b), &c.benches[b]
	end := v.Started + l.Fill + s.run.flood.Hold
	switch {
	case l.Full && v.FullAt == 0:
		return false // the guard's fill window ends it
	case l.Full:
		end = v.FullAt + s.run.flood.Hold
	case !l.High:
		end = v.Started + l.Fill // nothing guards the rim: just to the crest
	}
	c.wakeAt(end)
	return c.now.Mono >= end
}

// awaitGone ends the flood when its water is gone or its bench is latched.
func (c *Controller) awaitGone(b int) {
	s, v := &c.benches[b], &c.view.Benches[b]
	if v.Pump {
		return // it stops in this turn
	}
	if !s.run.seenStop {
		s.run.seenStop = true
		c.tally(b, v)
		c.floodRan(b, v)
		c.count(b, v, v.Stopped)
		c.emitFlood(PumpStopped, &s.run.flood)
	}
	if v.Full.Level == safety.Dry && s.run.seenFull && s.run.flood.Fall == 0 && v.Full.Since > v.Stopped {
		s.run.flood.Fall = v.Full.Since - v.Stopped
	}
	if v.Water == safety.Gone || len(v.Latched) > 0 {
		c.finish(b, v)
	}
}

// count restarts the crop clocks where the run, which ended at a reading of the
// boot-time clock, has watered them.
func (c *Controller) count(b int, v *safety.BenchView, ended time.Duration) {
	s := &c.benches[b]
	if counts(c.endingOf(b, v)) && !s.sanitising.on() {
		s.run.flood.Counted = true
		c.watered(b, ended)
	}
}

// tally adds what this attempt ran and lifted to the flood.
func (c *Controller) tally(b int, v *safety.BenchView) {
	f := &c.benches[b].run.flood
	f.Stood = v.FullFor
	f.Run += v.Stopped - v.Started
	lift := v.Stopped - v.Started
	if v.FullAt != 0 {
		lift = v.FullAt - v.Started
	}
	f.Litres += safety.Litres(float64(c.limits(b).Flow) * lift.Seconds())
}

// finish gives the flood under way its outcome, or sends it back for its
// retry.
func (c *Controller) finish(b int, v *safety.BenchView) {
	s := &c.benches[b]
	f := &s.run.flood
	e := c.endingOf(b, v)
	outcome, reason := outcomeOf(e)
	f.Ended = c.now.Wall
	s.phase = Rest
	if outcome == Unproven && v.Retry && f.Attempt == 0 {
		c.retry(b, outcome, reason)
		return
	}
	s.elapsedFrom = v.Started
	if f.Counted {
		c.waterCame(b, v.Started)
	}
	c.closeRun(f, outcome, reason)
}

// waterCame notes a flood that counted: those that waited for want of it are not
// wanted any more.
func (c *Controller) waterCame(b int, at time.Duration) {
	if c.benches[b].run.byRate {
		c.floodedByRate(b, at)
	}
	c.withdrawFrom(b, ByElapsed)
	if !c.needsCatchUp(b) {
		c.withdrawFrom(b, ByCatchUp)
	}
}

func (c *Controller) endingOf(b int, v *safety.BenchView) ending {
	r := &c.benches[b].run
	e := ending{
		full: c.limits(b).Full, person: r.person, trip: v.Trip,
		fullAt: v.FullAt, stood: v.FullFor, hold: r.flood.Hold, late: v.LateGone,
		fill: c.limits(b).Fill, ran: v.Stopped - v.Started,
	}
	if v.Trip.At > v.Stopped { // it came in the drain and cut no hold
		e.latched, e.trip = v.Trip, safety.Trip{}
	}
	if v.Trip.Interlock == safety.HandsIn && e.person == "" {
		e.person = "hands-in: a person stopped it"
	}
	if e.latched.Interlock == "" && len(v.Latched) > 0 && v.Latched[len(v.Latched)-1].At > v.Stopped {
		e.latched = v.Latched[len(v.Latched)-1]
	}
	return e
}

// retryGrace is how long after its rest a retry may still start, should the
// slot's own deadline be nearer.
const retryGrace = 15 * time.Minute

// retry puts a failed flood whose water came home back at the head of the
// queue, once, inside the same slot.
func (c *Controller) retry(b int, o Outcome, reason string) {
	s := &c.benches[b]
	j := s.run.job
	j.outcome, j.reason = o, reason
	j.flood.Reason = reason
	j.deadline = max(j.deadline, c.now.Mono+c.limits(b).Drain+retryGrace)
	s.queue = slices.Insert(s.queue, 0, j)
	c.emitFlood(FloodRetry, &j.flood)
	c.tell(Today, b, "fill", Parts{
		Happened: c.called(b) + ": the flood failed, and its water drained back. " + sentence(Reads(c.setup.Titles, reason, c.name(b))) + ".",
		Done:     "It is tried once more after a rest.",
	})
}

// wish puts what bench b wants of its pump into the Want.
func (c *Controller) wish(b int) {
	s := &c.benches[b]
	f := &s.run.flood
	c.want.Benches[b] = safety.RunWant{
		Pump:  s.phase == Filling || s.phase == Holding,
		Flood: f.ID, Attempt: f.Attempt, Hold: f.Hold,
	}
	s.run.wished = c.want.Benches[b].Pump
}
