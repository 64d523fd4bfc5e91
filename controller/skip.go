package controller

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// Skip is a flood to come that a person wants left out: the next one, once,
// whatever becomes of the clock. Until its time it is state alone and can be
// taken back; then its row says skipped.
type Skip struct {
	Slot  schedule.Civil `json:"slot"`  // 0 while floods follow elapsed time
	Named schedule.Civil `json:"named"` // that the person was told of; 0 where there was none
	Asked time.Duration  `json:"asked"` // boot-time clock
	Due   time.Duration  `json:"due"`   // boot-time clock at which the flood was to come when it was asked for

	Nameless bool `json:"nameless,omitzero"` // it was asked for without a slot, whatever slot it means now
}

// maxSkips is how many floods in a row can be skipped: who wants the bench dry
// for longer pauses it, which says until when.
const maxSkips = 2

// skippedByHand is the reason of a flood that a person left out.
const skippedByHand = "skipped by hand"

// doubleTap is how soon the same act on the same bench is taken for a second
// touch, or a second try of a slow network, and not for another wish.
const doubleTap = time.Minute

// Tap is an act of a person on a flood that is not to be done twice by mistake.
type Tap struct {
	Act  string         `json:"act"`
	At   time.Duration  `json:"at"` // boot-time clock
	Slot schedule.Civil `json:"slot"`
	Due  time.Time      `json:"due"`
}

const (
	tapSkip = "skip"
	tapUndo = "undo"
	tapStop = "stop"
)

// tapped returns the flood of the same act a moment ago.
func (c *Controller) tapped(b int, act string) (schedule.Planned, bool) {
	t := &c.benches[b].tap
	if t.Act != act || c.now.Mono-t.At >= doubleTap {
		return schedule.Planned{}, false
	}
	return schedule.Planned{Slot: schedule.Slot{Bench: b, Local: t.Slot}, Due: t.Due}, true
}

func (c *Controller) tap(b int, act string, p *schedule.Planned) {
	c.benches[b].tap = Tap{Act: act, At: c.now.Mono, Slot: p.Slot.Local, Due: p.Due}
	c.dirty = true
}

// SkipNext leaves out the next flood of bench b that is not skipped yet: one
// that waits for its turn at once, else one to come at its time. It returns that
// flood, without a slot while floods follow elapsed time. A second call within
// doubleTap means the same flood.
func (c *Controller) SkipNext(now safety.Now, b int) (schedule.Planned, error) {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return schedule.Planned{}, err
	}
	if p, again := c.tapped(b, tapSkip); again {
		return p, nil
	}
	p, ok := c.skipWaiting(b)
	if !ok {
		var err error
		if p, err = c.skip(b); err != nil {
			return p, err
		}
	}
	c.tap(b, tapSkip, &p)
	return p, nil
}

// SkipSlot is SkipNext for a person who has seen which flood that is. It is
// refused when another one comes first; a slot that is skipped stays so.
func (c *Controller) SkipSlot(now safety.Now, b int, slot schedule.Civil) (schedule.Planned, error) {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return schedule.Planned{}, err
	}
	if i := c.benches[b].skipOf(slot); i >= 0 {
		if p, ok := c.skipped(b, i); ok {
			return p, nil
		}
	}
	if p, again := c.tapped(b, tapSkip); again && p.Slot.Local == slot {
		return p, nil
	}
	p, ok := c.nextFlood(b)
	if !ok || p.Slot.Local != slot {
		return p, fmt.Errorf("skip on %s: the flood of %s is not the next one%s", c.called(b), slotWords(slot), c.instead(&p, ok))
	}
	p, err := c.skip(b)
	if err != nil {
		return p, err
	}
	c.tap(b, tapSkip, &p)
	return p, nil
}

func slotWords(slot schedule.Civil) string {
	return slot.Date().String() + " " + slot.TimeOfDay().String()
}

func (c *Controller) instead(p *schedule.Planned, ok bool) string {
	if !ok || p.Slot.Local == 0 {
		return "; look again at what is planned"
	}
	return ", that is " + c.local(p.Due) + "; look again at what is planned"
}

func (c *Controller) skip(b int) (schedule.Planned, error) {
	s := &c.benches[b]
	p, ok := c.nextFlood(b)
	switch {
	case !ok:
		return p, fmt.Errorf("skip on %s: no flood is planned", c.called(b))
	case len(s.skips) >= maxSkips:
		return p, fmt.Errorf("skip on %s: its next two floods are skipped already; pause it to keep it dry for longer", c.called(b))
	}
	s.skips = append(s.skips, Skip{Slot: p.Slot.Local, Named: p.Slot.Local, Asked: c.now.Mono, Due: c.monoOf(p.Due), Nameless: p.Slot.Local == 0})
	c.dirty = true
	return p, nil
}

// skipWaiting leaves out a planned flood that is due and waits for its turn, or
// since a restart for a trusted clock.
func (c *Controller) skipWaiting(b int) (schedule.Planned, bool) {
	s := &c.benches[b]
	planned := func(j job) bool { return j.flood.Cause != ByHand && j.flood.Started.IsZero() }
	i := slices.IndexFunc(s.queue, planned)
	var j job
	switch {
	case s.phase == Recording && planned(s.run.job):
		j, s.phase = s.run.job, Rest
	case i >= 0:
		j = s.queue[i]
		s.queue = slices.Delete(s.queue, i, i+1)
	case len(s.parked) > 0:
		j.flood = s.parked[0]
		s.parked = slices.Delete(s.parked, 0, 1)
	default:
		return schedule.Planned{}, false
	}
	f := &j.flood
	if f.HasSlot {
		s.rememberLeftOut(f.Slot)
	}
	if j.byRate {
		s.stand(Stand{From: c.now.Mono, To: c.now.Mono, Skipped: true})
	}
	c.closeUnrun(&j, Skipped, skippedByHand)
	c.wakeSoon()
	return schedule.Planned{Slot: schedule.Slot{Bench: b, Local: f.Slot}, Due: f.Due, Hold: f.Hold, Strength: f.Strength}, true
}

// UndoSkip takes back the skip of a slot of bench b, or, of slot 0, the last
// skip whose flood is still to come. It returns that flood.
func (c *Controller) UndoSkip(now safety.Now, b int, slot schedule.Civil) (schedule.Planned, error) {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return schedule.Planned{}, err
	}
	if p, again := c.tapped(b, tapUndo); again && (slot == 0 || slot == p.Slot.Local) {
		return p, nil
	}
	s := &c.benches[b]
	i := len(s.skips) - 1
	if slot != 0 {
		i = c.benches[b].skipOf(slot)
	}
	var p schedule.Planned
	ok := i >= 0
	if ok {
		p, ok = c.skipped(b, i)
	}
	if !ok {
		return p, fmt.Errorf("undo a skip on %s: no flood to come is skipped%s", c.called(b), ofSlot(slot))
	}
	s.skips = slices.Delete(s.skips, i, i+1)
	c.tap(b, tapUndo, &p)
	c.wakeSoon()
	return p, nil
}

func ofSlot(slot schedule.Civil) string {
	if slot == 0 {
		return ""
	}
	return " at " + slotWords(slot)
}

// skipped is the flood that skip i of bench b leaves out; not ok while none is
// planned.
func (c *Controller) skipped(b, i int) (schedule.Planned, bool) {
	k := &c.benches[b].skips[i]
	if !c.clock.calendar() {
		return c.elapsedFlood(b, i)
	}
	p, ok := c.setup.Calendar.After(b, k.Slot-1)
	return p, ok && p.Slot.Local == k.Slot
}

// elapsedFlood is the flood of bench b after n others by elapsed time.
func (c *Controller) elapsedFlood(b, n int) (schedule.Planned, bool) {
	p, ok := c.governing(b)
	if !ok {
		return p, false
	}
	due := c.benches[b].elapsedFrom + time.Duration(n+1)*intervalOf(p)
	p.Slot, p.Due = schedule.Slot{Bench: b}, c.now.Wall.Add(max(due, c.now.Mono)-c.now.Mono)
	return p, true
}

// rememberLeftOut keeps a slot that was left out, should the clock be set back
// and it come again.
func (s *bench) rememberLeftOut(slot schedule.Civil) {
	s.leftOut = append(s.leftOut, slot)
	s.leftOut = s.leftOut[max(0, len(s.leftOut)-2*maxSkips):] // by what they were named, and what they were
}

// skipElapsed leaves out the flood by elapsed time that has come due. It stands
// for a slot of about that time, should the calendar come back.
func (c *Controller) skipElapsed(b int, p *schedule.Planned) {
	s := &c.benches[b]
	j := c.newJob(b, ByElapsed, c.now.Wall, 0)
	j.flood.Hold, j.flood.Strength = p.Hold, p.Strength
	s.stand(Stand{From: c.now.Mono, To: c.now.Mono, Skipped: true, Slot: s.skips[0].Named})
	s.skips = slices.Delete(s.skips, 0, 1)
	c.closeUnrun(&j, Skipped, skippedByHand)
}

// rebind has each skip of bench b mean the next flood still. One whose slot is
// due at about the moment that its person meant keeps it; for any other the clock
// was wrong, or the plan is another one.
func (c *Controller) rebind(b int) {
	s := &c.benches[b]
	if len(s.skips) == 0 || !c.clock.calendar() {
		return
	}
	var lost []Skip
	s.skips = slices.DeleteFunc(s.skips, func(k Skip) bool {
		still := c.stillMeans(b, &k)
		if !still {
			lost = append(lost, k)
		}
		return !still
	})
	for _, k := range lost {
		if c.bind(b, &k) {
			s.skips = append(s.skips, k)
		}
	}
	slices.SortFunc(s.skips, func(k, l Skip) int { return cmp.Compare(k.Slot, l.Slot) })
	c.dirty = true
}

func (c *Controller) stillMeans(b int, k *Skip) bool {
	p, ok := c.toCome(b, k.Slot)
	return ok && (c.monoOf(p.Due)-k.Due).Abs() <= rearmBeyond
}

// toCome finds a slot of bench b that is planned and not taken up yet.
func (c *Controller) toCome(b int, slot schedule.Civil) (schedule.Planned, bool) {
	p, ok := c.setup.Calendar.After(b, slot-1)
	return p, ok && p.Slot.Local == slot && !(c.benches[b].hasSlot && slot <= c.benches[b].cursor)
}

// bind has a skip mean the next flood that starts, where that comes by about the
// moment that was meant, else the one that was named or any that comes before it;
// it reports false for a skip that is over. So no skip leaves out two floods: a
// slot that has become late meanwhile is the one that was left out, and one that is
// not planned any more needs no skip. Without a flood in sight a skip waits for a
// clock, or a plan, that shows one.
func (c *Controller) bind(b int, k *Skip) bool {
	p, ok := c.nextFlood(b)
	_, comes := c.toCome(b, k.Named)
	switch {
	case !ok || p.Due.Sub(c.now.Wall) > maxPause:
	case k.Named == 0 || c.monoOf(p.Due) <= k.Due+rearmBeyond:
		k.Slot = p.Slot.Local
	case comes:
		k.Slot = min(k.Named, p.Slot.Local)
	default:
		if !c.inPlan(b, k.Named) && c.now.Mono <= k.Due+rearmBeyond {
			c.tellOfLostSkip(b, k, &p)
		}
		return false
	}
	return true
}

func (c *Controller) inPlan(b int, slot schedule.Civil) bool {
	p, ok := c.setup.Calendar.After(b, slot-1)
	return ok && p.Slot.Local == slot
}

func (c *Controller) tellOfLostSkip(b int, k *Skip, next *schedule.Planned) {
	c.tell(Today, b, "skip", Parts{
		Happened: fmt.Sprintf("%s: the flood of %s, which was to be skipped, is not planned any more, so the skip is over.", c.called(b), slotWords(k.Named)),
		Done:     "The next flood is planned for " + c.local(next.Due) + ".",
		Do:       "Skip that one if the bench is to stay dry.",
	})
}

// lapse ends the skips of bench b by elapsed time whose moment has long passed in
// an outage: the power left that flood out, and those that come now are others.
func (c *Controller) lapse(b int) {
	s := &c.benches[b]
	s.skips = slices.DeleteFunc(s.skips, func(k Skip) bool {
		over := k.Slot == 0 && k.Due < c.now.Mono-queueFor
		if over {
			f := c.newJob(b, ByElapsed, c.wallOf(k.Due), 0).flood
			f.Ended, f.Outcome, f.Reason = c.now.Wall, Skipped, skippedByHand
			c.emitFlood(FloodEnded, &f)
		}
		return over
	})
}
