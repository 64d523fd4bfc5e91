package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// crop is the crop clock of one batch: the time since the last flood that
// counted, against what the plants can stand.
type crop struct {
	since   time.Duration // boot-time clock of the last flood that counted
	trouble bool          // a planned flood did not count since then
	dry     bool          // a person left out a planned flood since then
	level   int           // how far the messages have escalated: 0 not at all, 1 told, 2 at three quarters, 3 over
}

// watered restarts the crop clocks of the batches on bench b.
func (c *Controller) watered(b int, at time.Duration) {
	for i := range c.crops {
		if c.setup.Batches[i].Bench != b {
			continue
		}
		if k := &c.crops[i]; k.level > 0 {
			c.tellGone(ThisWeek, b, "crop-"+c.setup.Batches[i].Name, Parts{Happened: c.setup.Batches[i].Name + " on " + c.name(b) + " has been watered again."})
		}
		c.crops[i] = crop{since: at}
	}
	c.dirty = true
}

// canWait is what batch i can stand without water at its present age; false
// when it has no stage now.
func (c *Controller) canWait(i int) (time.Duration, bool) {
	batch := &c.setup.Batches[i]
	plan := &c.setup.Plans[batch.Plan]
	k, ok := batch.StageOn(*plan, c.today())
	if !ok {
		return 0, false
	}
	return plan.Stages[k].CanWait, true
}

// CropRatio is the crop clock of batch i as a fraction of what it can stand; 0
// for a batch without a stage today.
func (c *Controller) CropRatio(i int) float64 {
	wait, ok := c.canWait(i)
	if !ok || wait <= 0 {
		return 0
	}
	return float64(c.now.Mono-c.crops[i].since) / float64(wait)
}

// escalation says at which part of can_wait a crop in trouble is told of
// again.
var escalation = [...]float64{0, 0.75, 1}

// watchCrops tells of crops that a planned flood did not reach, or that the
// next planned one would reach too late; again as the time runs out; and not
// merely because time passes on a healthy schedule.
func (c *Controller) watchCrops() {
	if c.outage.open() {
		return // how long the crops have waited is about to be known
	}
	for i := range c.crops {
		wait, ok := c.canWait(i)
		if !ok {
			c.crops[i] = crop{since: c.now.Mono}
			continue
		}
		c.watchCrop(i, wait)
	}
}

func (c *Controller) watchCrop(i int, wait time.Duration) {
	k := &c.crops[i]
	if k.level >= len(escalation) || !k.trouble && !c.tooLate(i, wait) {
		return
	}
	at := k.since + time.Duration(escalation[max(k.level, c.patience(i, wait))]*float64(wait))
	if c.now.Mono < at {
		c.wakeAt(at)
		return
	}
	if over := k.since + wait; c.now.Mono < over && k.level > 0 && c.onItsWay(i, wait) {
		c.wakeAt(over)
		return
	}
	for k.level < len(escalation) && c.now.Mono >= k.since+time.Duration(escalation[k.level]*float64(wait)) {
		k.level++
	}
	c.tellOfCrop(i, wait)
	if k.level < len(escalation) {
		c.wakeAt(k.since + time.Duration(escalation[k.level]*float64(wait)))
	}
	c.dirty = true
}

// patience is the part of the escalation before which a crop is not told of: it
// would be in time but for a flood that a person wants left out.
func (c *Controller) patience(i int, wait time.Duration) int {
	k, b := &c.crops[i], c.setup.Batches[i].Bench
	if k.trouble {
		return 0
	}
	end, ok := c.plannedEnd(b)
	if !ok {
		return len(escalation) - 1 // nothing is planned for it: perhaps it leaves its bench today
	}
	if k.dry || len(c.benches[b].skips) > 0 && ok && end <= k.since+wait {
		return 1
	}
	return 0
}

// onItsWay reports whether the next planned flood of the batch's bench comes in
// time and nothing is known to stand in its way.
func (c *Controller) onItsWay(i int, wait time.Duration) bool {
	b := c.setup.Batches[i].Bench
	s := &c.benches[b]
	refused := len(s.queue) > 0 && s.queue[0].refusal.No()
	held := s.pause.on || s.sanitising.on() || c.view.HandsIn || len(c.view.Benches[b].Latched) > 0
	return !refused && !held && !c.tooLate(i, wait)
}

// tooLate reports whether the next planned flood of the batch's bench would
// come later than the crop can wait: none is under way or queued, and the next
// slot ends after the crop clock has run out.
func (c *Controller) tooLate(i int, wait time.Duration) bool {
	b := c.setup.Batches[i].Bench
	s := &c.benches[b]
	if s.phase != Rest || len(s.queue) > 0 {
		return false
	}
	end, ok := c.nextEnd(b)
	return !ok || end > c.crops[i].since+wait
}

// nextEnd is the boot-time clock at which the next planned flood of bench b that
// no skip leaves out will have been held; false when the bench has no floods to
// come.
func (c *Controller) nextEnd(b int) (time.Duration, bool) {
	if !c.clock.calendar() {
		return c.elapsedEnd(b, len(c.benches[b].skips))
	}
	p, ok := c.nextFlood(b)
	return c.monoOf(p.Due) + c.limits(b).Fill + p.Hold, ok
}

// plannedEnd is nextEnd as if nobody had skipped a flood.
func (c *Controller) plannedEnd(b int) (time.Duration, bool) {
	if !c.clock.calendar() {
		return c.elapsedEnd(b, 0)
	}
	p, ok := c.nextSlot(b)
	return c.monoOf(p.Due) + c.limits(b).Fill + p.Hold, ok
}

func (c *Controller) elapsedEnd(b, skips int) (time.Duration, bool) {
	p, ok := c.governing(b)
	return c.benches[b].elapsedFrom + time.Duration(1+skips)*intervalOf(p) + c.limits(b).Fill + p.Hold, ok
}

func (c *Controller) tellOfCrop(i int, wait time.Duration) {
	k, b := &c.crops[i], c.setup.Batches[i].Bench
	left := k.since + wait - c.now.Mono
	name := c.setup.Batches[i].Name
	p := Parts{Happened: fmt.Sprintf("%s on %s: last watered %s ago; it can wait %s.", name, c.name(b), hours(c.now.Mono-k.since), hours(wait))}
	urgency := Today
	switch {
	case left > 0 && !k.trouble && c.patience(i, wait) == 1:
		urgency = Urgent
		p.Happened += fmt.Sprintf(" Its flood was skipped by hand, and the next one comes too late. %s are left.", hours(left))
		p.Do = fmt.Sprintf("Undo the skip, or flood by hand, before %s.", c.local(c.now.Wall.Add(left)))
	case left <= 0:
		urgency = Urgent
		p.Happened += " It has waited longer than it can."
		p.Do = "Water it by hand now."
	case k.level >= 2:
		urgency = Urgent
		p.Happened += fmt.Sprintf(" %s are left.", hours(left))
		p.Do = fmt.Sprintf("Water it by hand, or clear what keeps the bench from flooding, before %s.", c.local(c.now.Wall.Add(left)))
	case !k.trouble:
		p.Happened += " The next planned flood comes later than that."
		p.Do = "Flood by hand before " + c.local(c.now.Wall.Add(left)) + ", or add a flood to its stage."
	default:
		p.Happened += " A planned flood did not count."
		p.Do = "See that one does before " + c.local(c.now.Wall.Add(left)) + "."
	}
	c.tell(urgency, b, "crop-"+name, p)
}

// waitsUntil is when the first crop on bench b, or anywhere for -1, can wait no
// longer; zero when none stands there.
func (c *Controller) waitsUntil(b int) (first time.Time) {
	for i := range c.crops {
		wait, ok := c.canWait(i)
		if !ok || b >= 0 && c.setup.Batches[i].Bench != b {
			continue
		}
		if at := c.now.Wall.Add(c.crops[i].since + wait - c.now.Mono); first.IsZero() || at.Before(first) {
			first = at
		}
	}
	return first
}

// hours prints a duration as a grower says it.
func hours(d time.Duration) string {
	if d < 2*time.Hour {
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return fmt.Sprintf("%.0f h", d.Hours())
}

// wantedDry marks the crops of bench b: a person left out a planned flood. It
// asks for no catch-up, and nobody is told before the time runs short.
func (c *Controller) wantedDry(b int) {
	for i := range c.crops {
		if c.setup.Batches[i].Bench == b {
			c.crops[i].dry = true
		}
	}
	c.dirty = true
}

// missedWater marks the crops of bench b: a planned flood that was due at a time
// of the boot-time clock did not count. Those that were watered since then have
// had what it was to bring.
func (c *Controller) missedWater(b int, due time.Duration) {
	for i := range c.crops {
		if c.setup.Batches[i].Bench == b && c.crops[i].since <= due {
			c.crops[i].trouble = true
		}
	}
}

// reconsider queues one catch-up flood on each bench whose crop could not wait
// for the next slot to end. It is called after an outage, a clock step, and
// when a person releases a bench: never twice for one of these.
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
func (c *Controller) needsCatchUp(b int) bool {
	end, ok := c.plannedEnd(b)
	if !ok {
		return false
	}
	if p, ok := c.nextSlot(b); ok && c.monoOf(p.Due)-c.now.Mono < c.setup.cycle(b, c.limits(b).MaxHold)+c.limits(b).Drain {
		return false
	}
	for i := range c.crops {
		wait, open := c.canWait(i)
		wanted := c.crops[i].dry && !c.crops[i].trouble
		if open && !wanted && c.setup.Batches[i].Bench == b && end > c.crops[i].since+wait {
			return true
		}
	}
	return false
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
		case j.refusal.No():
			c.closeQueued(&j)
		}
	}
	s.queue = kept
}
