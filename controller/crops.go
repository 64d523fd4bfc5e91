package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// onBench visits the crop clocks of the batches on bench b.
func (c *Controller) onBench(b int, visit func(i int, k *cropClock)) {
	for i := range c.crops {
		if c.setup.Batches[i].Bench == b {
			visit(i, &c.crops[i])
		}
	}
}

// watered restarts the crop clocks of the batches on bench b.
func (c *Controller) watered(b int, at time.Duration) {
	c.onBench(b, func(i int, k *cropClock) {
		if k.level > 0 {
			c.tellGone(ThisWeek, b, "crop-"+c.setup.Batches[i].Name, Parts{Happened: c.plants(i) + " on " + c.called(b) + " has been watered again."})
		}
		*k = cropClock{since: at}
	})
	c.dirty = true
}

// wantedDry marks the crops of bench b: a person left out a planned flood. It
// asks for no catch-up, and nobody is told before the time runs short.
func (c *Controller) wantedDry(b int) {
	c.onBench(b, func(_ int, k *cropClock) { k.dry = true })
	c.dirty = true
}

// missedWater marks the crops of bench b: a planned flood that was due at a time
// of the boot-time clock did not count.
func (c *Controller) missedWater(b int, due time.Duration) {
	c.onBench(b, func(_ int, k *cropClock) { k.missed(due) })
}

// canWait is what batch i can stand without water at its present age; false
// when it has no stage now.
func (c *Controller) canWait(i int) (time.Duration, bool) {
	k, ok := c.setup.Calendar.StageOn(i, c.today())
	if !ok {
		return 0, false
	}
	return c.setup.Plans[c.setup.Batches[i].Plan].Stages[k].CanWait, true
}

// CropRatio is the crop clock of batch i as a fraction of the limit that it runs
// against; 0 for a batch without a stage today.
func (c *Controller) CropRatio(i int) float64 {
	l, _ := c.limit(i)
	return c.crops[i].ratio(c.now.Mono, l.wait)
}

// watchCrops tells of crops that a planned flood did not reach, or that the
// next planned one would reach too late; again as the time runs out; and not
// merely because time passes on a healthy schedule.
func (c *Controller) watchCrops() {
	if c.outage.open() {
		return // how long the crops have waited is about to be known
	}
	bench, a := -1, ahead{}
	for i := range c.crops {
		l, ok := c.limit(i)
		if !ok {
			c.crops[i] = cropClock{since: c.now.Mono, noFlood: true}
			continue
		}
		c.cameToday(i)
		if b := c.setup.Batches[i].Bench; b != bench {
			bench, a = b, c.ahead(b)
		}
		c.watchCrop(i, l, a)
	}
}

// cameToday has the clock of a batch that no flood has reached begin on the day on
// which the batch came, and not at the last turn before.
func (c *Controller) cameToday(i int) {
	k := &c.crops[i]
	if !k.noFlood || !c.clock.calendar() {
		return
	}
	if came := c.monoOf(c.setup.Batches[i].Transplanted.At(0).In(c.setup.Calendar.Zone())); came <= c.now.Mono {
		k.since = max(k.since, came)
	}
}

// watchCrop looks at one crop, of whose bench a is ahead.
func (c *Controller) watchCrop(i int, l limit, a ahead) {
	a.hot = l.pots && c.crops[i].trouble
	p, again := c.crops[i].look(c.now.Mono, l.wait, &a)
	if p != fine {
		c.tellOfCrop(i, l, p)
		c.dirty = true
	}
	c.wakeAt(again)
}

// ahead is what the crop clocks have to know of bench b.
func (c *Controller) ahead(b int) ahead {
	s := &c.benches[b]
	a := ahead{busy: s.phase != Rest || len(s.queue) > 0, skips: len(s.skips) > 0, planned: c.plannedEnd(b)}
	if !a.busy {
		a.next = c.nextEnd(b)
	}
	if a.refused = len(s.queue) > 0 && s.queue[0].refusal.Refused(); a.refused {
		a.since = s.queue[0].ready
	}
	a.held = a.refused || s.pause.on || s.sanitising.on() || c.view.HandsIn || len(c.view.Benches[b].Latched) > 0
	return a
}

// nextEnd is when the next planned flood of bench b that no skip leaves out will
// have been held.
func (c *Controller) nextEnd(b int) end {
	if !c.clock.calendar() {
		return c.elapsedEnd(b, len(c.benches[b].skips))
	}
	p, ok := c.nextFlood(b)
	return end{c.monoOf(p.Due) + c.limits(b).Fill + p.Hold, ok}
}

// plannedEnd is nextEnd as if nobody had skipped a flood.
func (c *Controller) plannedEnd(b int) end {
	if !c.clock.calendar() {
		return c.elapsedEnd(b, 0)
	}
	p, ok := c.nextSlot(b)
	return end{c.monoOf(p.Due) + c.limits(b).Fill + p.Hold, ok}
}

func (c *Controller) elapsedEnd(b, skips int) end {
	p, ok := c.governing(b)
	return end{c.benches[b].elapsedFrom + time.Duration(1+skips)*intervalOf(p) + c.limits(b).Fill + p.Hold, ok}
}

func (c *Controller) tellOfCrop(i int, l limit, is plight) {
	k, b := &c.crops[i], c.setup.Batches[i].Bench
	left := k.runOut(l.wait) - c.now.Mono
	by := c.local(c.now.Wall.Add(left))
	p := Parts{Happened: fmt.Sprintf("%s on %s: %s; %s.", c.plants(i), c.called(b), k.waited(c.now.Mono), l)}
	urgency := Urgent
	switch is {
	case skipped:
		p.Happened += fmt.Sprintf(" Its flood was skipped by hand, and the next one comes too late. %s are left.", Lasting(left))
		p.Do = "Undo the skip, or flood by hand, before " + by + "."
	case over:
		p.Happened += " " + l.passed()
		p.Do = "Water it by hand now."
	case runsOut:
		p.Happened += fmt.Sprintf(" %s are left.", Lasting(left))
		p.Do = "Water it by hand, or clear what keeps the bench from flooding, before " + by + "."
	case tooRare:
		urgency = Today
		p.Happened += " The next planned flood comes later than that."
		p.Do = "Flood by hand before " + by + ", or add a flood to its stage."
	default:
		urgency = Today
		p.Happened += " A planned flood did not count."
		p.Do = "See that one does before " + by + "."
	}
	c.tell(urgency, b, "crop-"+c.setup.Batches[i].Name, p)
}

// waitsUntil is when the first crop on bench b, or anywhere for -1, can wait no
// longer; zero when none stands there.
func (c *Controller) waitsUntil(b int) (first time.Time) {
	for i := range c.crops {
		l, ok := c.limit(i)
		if !ok || b >= 0 && c.setup.Batches[i].Bench != b {
			continue
		}
		if at := c.wallOf(c.crops[i].runOut(l.wait)); first.IsZero() || at.Before(first) {
			first = at
		}
	}
	return first
}

// reconsider queues one catch-up flood on each bench whose crop could not wait
// for the next slot to end. It is called after an outage, a clock step, when a
// person releases a bench, and when a flood that was due could not start and now
// could: never twice for one of these.
func (c *Controller) reconsider() {
	for b := range c.benches {
		c.reconsiderBench(b)
	}
}

func (c *Controller) reconsiderBench(b int) {
	s := &c.benches[b]
	if s.phase != Rest || len(s.queue) > 0 || !c.clock.calendar() || s.sanitising.on() {
		return
	}
	p, ok := c.governing(b)
	if !ok || !c.needsCatchUp(b) {
		return
	}
	j := c.newJob(b, ByCatchUp, c.now.Wall, queueFor)
	j.flood.Hold, j.flood.Strength = p.Hold, p.Strength
	c.notBefore(b, &j)
	if next, ok := c.nextSlot(b); ok {
		j.deadline = min(j.deadline, c.monoOf(next.Due))
	}
	s.queue = append(s.queue, j)
	c.dirty = true
}

// needsCatchUp reports whether a crop of bench b would wait too long for the
// next slot, and no slot is due so soon that a catch-up would only crowd it.
func (c *Controller) needsCatchUp(b int) (needed bool) {
	e := c.plannedEnd(b)
	if !e.ok {
		return false
	}
	if p, ok := c.nextSlot(b); ok {
		if c.monoOf(p.Due)-c.now.Mono < c.setup.cycle(b, c.limits(b).MaxHold)+c.limits(b).Drain {
			return false
		}
		e.at += c.turn(&p)
	}
	c.onBench(b, func(i int, k *cropClock) {
		l, open := c.limit(i)
		needed = needed || open && k.needsCatchUp(e, l.wait)
	})
	return needed
}

// turn is how long a slot waits for its turn: benches of its reservoir that are due
// before it flood and drain first, one after another.
func (c *Controller) turn(p *schedule.Planned) time.Duration {
	due := c.monoOf(p.Due)
	until, tank := due-queueFor, c.limits(p.Slot.Bench).Reservoir
	from := p.Slot.Local - schedule.Civil(queueFor/time.Second)
	for _, n := range c.setup.Calendar.Between(from, p.Slot.Local) {
		if n.Slot.Bench != p.Slot.Bench && c.limits(n.Slot.Bench).Reservoir == tank {
			until = max(until, c.monoOf(n.Due)) + c.setup.cycle(n.Slot.Bench, n.Hold)
		}
	}
	return max(0, until-due)
}

// notBefore has a flood that no slot asked for wait until its reservoir is
// stirred and its pump has rested.
func (c *Controller) notBefore(b int, j *job) {
	j.ready += c.stirAhead(b)
	if r := c.view.Benches[b].Start; r.Interlock == safety.MinRest {
		j.ready = max(j.ready, r.Until)
	}
}

// withdraw takes floods of a cause that still wait out of every queue: a slot
// or the calendar does their work. Only one that was refused already is on
// record, and gets its outcome.
func (c *Controller) withdraw(cause Cause) {
	for b := range c.benches {
		c.withdrawFrom(b, cause)
	}
}

func (c *Controller) withdrawFrom(b int, cause Cause) {
	s := &c.benches[b]
	kept := s.queue[:0]
	for i := range s.queue {
		j := s.queue[i]
		switch {
		case j.flood.Cause != cause || j.outcome != "":
			kept = append(kept, j)
		case j.refusal.Refused():
			c.closeQueued(&j)
		}
	}
	s.queue = kept
}
