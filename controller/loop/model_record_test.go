package loop_test

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/safety"
	"benchtide/schedule"
)

// expect notes the slots that came due while the program knew the calendar:
// each has to have one row and one outcome.
func (o *oracle) expect(from, to time.Time) {
	if to.Sub(from) > 12*day {
		o.calm = o.m.elapsed + 2*time.Hour
	}
	if o.m.elapsed < o.calm {
		return // what a clock jumps over by years takes its time, and may be taken back before
	}
	for b := range o.benches {
		at := schedule.CivilIn(from, dublin) - 2*3600
		for {
			p, ok := o.calendar.After(b, at)
			if !ok || p.Due.After(to) {
				break
			}
			at = p.Slot.Local
			if !p.Due.After(from) || o.benches[b].murky {
				continue
			}
			if _, known := o.due[p.Slot]; !known {
				o.due[p.Slot] = coming{o.m.elapsed, o.m.storage.turn}
			}
		}
	}
}

// hear takes one event.
func (o *oracle) hear(e *controller.Event) {
	if e.Flood.ID != 0 {
		o.row(&e.Flood)
	}
	switch e.Kind {
	case controller.MessageSent:
		if e.Message.Cause != "hands-in" { // it comes every hour
			o.log("      told %s: %s", e.Message.Urgency, e.Message.Text)
		}
		o.message(&e.Message)
	case controller.GuardActed:
		if e.Guard.Kind == safety.LatchedEvent && e.Guard.Bench >= 0 {
			o.benches[e.Guard.Bench].latched.say(true, o.m.storage.turn)
		}
	}
}

// row judges a flood as the record has it now.
func (o *oracle) row(f *controller.Flood) {
	k, now := &o.benches[f.Bench], o.m.Now()
	if f.Cause == controller.ByHand {
		o.rowByHand(f)
	}
	was, over := o.ended[f.ID]
	if over && was.Outcome != f.Outcome {
		o.breaks("outcome", "flood %d of %s was %s, and becomes %q", f.ID, o.name(f.Bench), was.Outcome, f.Outcome)
	}
	if f.Open() || over {
		return
	}
	o.ended[f.ID] = *f
	if age := now.Wall.Sub(f.Due); !f.Counted && age < o.m.elapsed-k.counted {
		k.failed = true
	}
	o.logRow(f)
	k.lastEnded, k.hasEnded = *f, true
	o.end(f)
	o.truly(f)
	if f.HasSlot {
		o.slotRow(f)
	}
	if f.Outcome == controller.Skipped {
		o.skippedRow(f)
	} else if f.HasSlot {
		for _, s := range k.skips {
			switch {
			case s.done != 0 || !s.hasSlot || s.slot != f.Slot || s.before.ID == f.ID:
			case f.Outcome == controller.Missed: // where the next one comes at the moment that was meant, it means that
				s.missed = true
			default:
				s.done = o.m.storage.turn
			}
		}
	}
	if f.Outcome == controller.Proven && f.Counted && k.counted > o.ran[f.ID].began {
		k.proven, k.everProven = o.m.elapsed, true
	}
}

// logRow writes a row down, but not years of them.
func (o *oracle) logRow(f *controller.Flood) {
	if o.logged++; o.logged < 12 {
		o.log("      row %d of %s: %s, due %s: %s %s", f.ID, o.name(f.Bench), f.Cause, o.local(f.Due), f.Outcome, f.Reason)
	}
}

// end judges the one outcome of a flood.
func (o *oracle) end(f *controller.Flood) {
	r, known := o.ran[f.ID]
	ran := r.runs > 0
	if f.Outcome != controller.Proven && f.Reason == "" {
		o.breaks("reason", "flood %d of %s is %s for no reason", f.ID, o.name(f.Bench), f.Outcome)
	}
	switch f.Outcome {
	case controller.Proven, controller.Short, controller.Unproven:
		if !ran {
			o.breaks("outcome", "flood %d of %s is %s, and its pump never ran", f.ID, o.name(f.Bench), f.Outcome)
		}
	case controller.Interrupted:
	default:
		if ran && known {
			o.breaks("outcome", "flood %d of %s is %s, and its pump ran", f.ID, o.name(f.Bench), f.Outcome)
		}
	}
	if f.Outcome == controller.Proven && r.stood < f.Hold-2*time.Second {
		o.breaks("outcome", "flood %d of %s is proven, and its water stood for %s of %s", f.ID, o.name(f.Bench), r.stood, f.Hold)
	}
}

// truly judges whether what the record says of a slot's flood truly was.
func (o *oracle) truly(f *controller.Flood) {
	k, now := &o.benches[f.Bench], o.m.Now()
	age := now.Wall.Sub(f.Due)
	if strings.Contains(f.Reason, "by elapsed time") {
		if o.unknown > 1 {
			return // how long each outage was nobody can know
		}
		half := o.intervals(f.Bench, true) / 2
		if ago := o.m.elapsed - k.counted; !k.watered || ago > age+half+slack {
			o.breaks("instead", "the slot of %s on %s stands as %q, and its last flood that counted was %s ago", o.local(f.Due), o.name(f.Bench), f.Reason, ago)
		}
		return
	}
	if f.Outcome == controller.Missed && f.HasSlot && age >= 0 && o.disturbed < o.m.elapsed-age-time.Minute && !o.shares(f.Bench) && !k.murky {
		o.breaks("missed", "the slot of %s on %s is missed (%s), and nothing was in its way", o.local(f.Due), o.name(f.Bench), f.Reason)
	}
}

func (o *oracle) shares(b int) bool {
	return len(o.benches) > 1 && !o.m.layout.apart
}

// slotRow: rows stand only for slots that passed while the program could know.
func (o *oracle) slotRow(f *controller.Flood) {
	now := o.m.Now()
	if now.Trusted && f.Started.IsZero() && f.Due.After(now.Wall.Add(time.Second)) && o.m.elapsed-o.jumped > 3*time.Hour {
		o.breaks("early", "the slot of %s on %s is %s at %s already", o.local(f.Due), o.name(f.Bench), f.Outcome, o.local(now.Wall))
	}
	if f.Due.Before(o.origin.Add(-time.Minute)) {
		o.breaks("false", "the slot of %s on %s is %s, and the program was first started at %s", o.local(f.Due), o.name(f.Bench), f.Outcome, o.local(o.origin))
	}
}

// skippedRow: a flood is skipped once for each skip that a person asked for, or
// when it was stopped before it began.
func (o *oracle) skippedRow(f *controller.Flood) {
	k := &o.benches[f.Bench]
	stopped := slices.ContainsFunc(k.asks, func(a *ask) bool { return a.stopped && a.id == f.ID })
	if stopped || f.Cause != controller.ByHand && k.halt.now && strings.Contains(f.Reason, "stopped") {
		return
	}
	if !strings.Contains(f.Reason, "not trusted") {
		if s := k.meant(f); s != nil {
			if s.done = o.m.storage.turn; f.Due.After(o.m.Now().Wall) && !s.queued && o.jumped < s.at {
				s.done, s.early = 0, f.Due
			}
			if late := o.m.elapsed - s.moment; s.missed && !s.vague && late > heldFor {
				o.breaks("skip", "the flood of %s on %s is skipped %s after the one that was, and that one is missed", o.local(f.Due), o.name(f.Bench), late)
			}
			if !f.HasSlot {
				s.instead = o.m.elapsed
			}
			return
		}
	}
	// What was skipped by elapsed time stands for one slot of about that time, and
	// a slot that comes again after the clock was set back is still left out.
	for _, s := range k.skips {
		if !s.again && s.due.Equal(f.Due) {
			s.again = true
			return
		}
		age := o.m.Now().Wall.Sub(f.Due)
		if s.instead != 0 && s.stood == 0 && (o.unknown > 1 || s.hasSlot && s.slot == f.Slot || (o.m.elapsed-s.instead-age).Abs() <= o.intervals(f.Bench, true)+slack) {
			s.stood = o.m.storage.turn
			return
		}
	}
	o.breaks("skip", "the flood of %s on %s is skipped, and nobody asked for that", o.local(f.Due), o.name(f.Bench))
}

// heldFor is how long after the moment that a person meant a skip may hold for
// another flood, once its own was missed.
const heldFor = 2*time.Hour + slack

// meant is the skip that left a flood out: the one that named it, else the first
// that is not kept yet.
func (k *told) meant(f *controller.Flood) (first *skip) {
	for _, s := range k.skips {
		switch {
		case s.done != 0 || !s.early.IsZero():
		case s.hasSlot && f.HasSlot && s.slot == f.Slot:
			return s
		case first == nil || first.vague && !s.vague:
			first = s
		}
	}
	return first
}

// rowByHand: each row of a flood by hand was asked for, once.
func (o *oracle) rowByHand(f *controller.Flood) {
	asks := o.benches[f.Bench].asks
	if slices.ContainsFunc(asks, func(a *ask) bool { return a.id == f.ID }) {
		return
	}
	for _, a := range asks {
		if a.id == 0 {
			a.id = f.ID
			return
		}
	}
	o.breaks("hand", "flood %d of %s is by hand, and nobody asked for it", f.ID, o.name(f.Bench))
}

// message judges what a person is told of a crop.
func (o *oracle) message(m *controller.Message) {
	if m.Cause == "skip" {
		o.skipIsOver(m)
	}
	if m.Gone || m.Bench < 0 || !strings.HasPrefix(m.Cause, "crop-") {
		return
	}
	k := &o.benches[m.Bench]
	k.spoken = true
	if k.murky {
		return
	}
	if ago := o.m.elapsed - k.proven; k.everProven && !k.failed && k.proven >= k.counted && ago < time.Hour {
		o.breaks("alarm", "%s after a proven flood of %s a person is told %q", ago, o.name(m.Bench), m.Text)
	}
	if m.Urgency == controller.Urgent && k.most < o.m.layout.canWait*7/10 {
		o.breaks("alarm", "%s has waited %s at most, and a person is told %q", o.name(m.Bench), k.most, m.Text)
	}
}

// skipIsOver takes back what was promised of a skip, now that its person is told.
func (o *oracle) skipIsOver(m *controller.Message) {
	for _, s := range o.benches[m.Bench].skips {
		if s.done == 0 {
			s.done = o.m.storage.turn
			return
		}
	}
	o.breaks("skip", "a person is told %q, and nothing was skipped", m.Text)
}

// showsSkips holds the floods that are shown as skipped against what people asked
// for.
func (o *oracle) showsSkips(b int) {
	k, st := &o.benches[b], &o.status.Benches[b]
	if !o.status.Calendar && !o.status.Batches[b].Stands {
		return // nothing floods by elapsed time
	}
	pending := 0
	for _, s := range k.skips {
		if k.closed.on && o.m.elapsed >= s.moment && s.done == 0 {
			s.vague = true // its time is over, but for a bench that is put back at once
		}
		if s.vague || k.murky || k.closed.on || k.closed.unsure || !s.early.IsZero() {
			return
		}
		if s.missed && o.m.elapsed >= s.moment {
			return // it may be over, or not
		}
		if s.done != 0 {
			continue
		}
		pending++
		shown := slices.ContainsFunc(st.Skipped, func(p schedule.Planned) bool { return p.Slot.Local == s.slot })
		if s.hasSlot && o.status.Calendar && o.disturbed < s.at && !shown {
			o.breaks("shown", "the flood of %s on %s was skipped, and is not shown so", o.local(s.due), o.name(b))
		}
	}
	if pending != len(st.Skipped) {
		o.breaks("shown", "%d floods of %s are shown as skipped, and people asked for %d", len(st.Skipped), o.name(b), pending)
	}
}

// compare holds what is shown of a bench against what people were told.
func (o *oracle) compare(b int) {
	k, st, m := &o.benches[b], &o.status.Benches[b], o.m
	now := m.Now()
	o.look(b)
	switch p := &k.pause; {
	case p.isNot() && st.Paused:
		o.breaks("pause", "%s is shown as paused, and nobody asked for that", o.name(b))
	case p.is() && !st.Paused && m.elapsed < p.until-p.early-time.Second && !(m.trusted && !now.Wall.Before(p.wall)):
		o.breaks("pause", "%s is no longer paused, %s before its time", o.name(b), p.until-m.elapsed)
	case p.is() && st.Paused && p.measured && m.elapsed > p.until+time.Minute && m.trusted && m.wrong == 0 && m.elapsed > o.disturbed+15*time.Minute:
		o.breaks("pause", "%s is still paused, %s after its time", o.name(b), m.elapsed-p.until)
	case p.is() && !st.Paused && m.elapsed >= p.until-time.Second:
		p.say(false, m.storage.turn)
	case p.is() && !st.Paused:
		p.say(false, m.storage.turn) // the clock on the wall said that it was time
	}
	if len(st.Latched) == 0 && k.latched.is() {
		o.breaks("latch", "%s was latched, and no longer is", o.name(b))
	}
	if on := !st.Sanitising.IsZero(); on != k.sanitising.on && !k.sanitising.unsure {
		o.breaks("sanitise", "%s is shown as being sanitised: %v; a person was told %v", o.name(b), on, k.sanitising.on)
	}
	if f := &st.Last; f.ID != 0 {
		switch {
		case f.Open():
			o.breaks("last", "the last flood of %s is shown without an outcome", o.name(b))
		case k.hasEnded && f.ID != k.lastEnded.ID && f.HasSlot && f.Started.IsZero() && m.trusted && m.elapsed-o.jumped > 3*time.Hour && f.Ended.Before(now.Wall) && f.Due.After(now.Wall.Add(time.Minute)):
			o.breaks("last", "the last flood of %s is shown as one of %s to come", o.name(b), o.local(f.Due))
		}
	}
	o.showsSkips(b)
	o.dry(b)
}

// look has a person who cannot know what became of an act look at what is shown.
func (o *oracle) look(b int) {
	k, st := &o.benches[b], &o.status.Benches[b]
	see := func(w *word, on bool) {
		if w.unsure {
			w.say(on, o.m.storage.turn) // what is shown may not be stored either
		}
	}
	see(&k.sanitising, !st.Sanitising.IsZero())
	see(&k.latched, len(st.Latched) > 0)
	see(&k.closed, !o.status.Batches[b].Stands)
	see(&o.handsIn, o.status.HandsIn)
	if !st.Paused {
		see(&k.pause.word, false)
	}
}

// patience is how long after its time a person may be told that a crop waits.
const patience = 2*time.Hour + heartbeat

// dry: a crop that has waited longer than it can is told of.
func (o *oracle) dry(b int) {
	k := &o.benches[b]
	switch {
	case k.closed.on || k.closed.unsure || k.murky || o.tooEarly(b):
		k.least = 0
	case o.m.elapsed-o.disturbed < time.Hour: // the program may be about to learn how long it was away
	case k.least > o.m.layout.canWait+patience && !k.spoken:
		o.breaks("dry", "%s has waited %s at least, and nobody was told", o.name(b), k.least)
	}
}

// tooEarly reports whether, as far as a trusted clock ever said, nothing stands on
// the bench yet.
func (o *oracle) tooEarly(b int) bool {
	date := o.seen.wall.Add(o.m.elapsed - o.seen.at)
	return o.seen.ok && schedule.CivilIn(date, dublin).Date() < o.batches[b].Transplanted
}

// settle judges the record once everything has come to rest: slots that came
// due more than a while ago have one row and one outcome.
func (o *oracle) settle() {
	rows := map[schedule.Slot]controller.Flood{}
	for _, id := range slices.Sorted(maps.Keys(o.m.storage.floods)) {
		f := o.m.storage.floods[id]
		if !f.HasSlot {
			continue
		}
		slot := schedule.Slot{Bench: f.Bench, Local: f.Slot}
		if was, twice := rows[slot]; twice {
			o.breaks("rows", "slot %s of %s has two rows: %s (%s) and %s (%s)", f.Slot, o.name(f.Bench), was.Outcome, was.Reason, f.Outcome, f.Reason)
		}
		rows[slot] = f
	}
	for _, slot := range slices.SortedFunc(maps.Keys(o.due), inOrder) {
		f, ok := rows[slot]
		switch at := o.due[slot].at; {
		case at > o.m.elapsed-5*time.Hour:
		case !ok:
			o.breaks("dropped", "slot %s of %s came due and has no row", slot.Local, o.name(slot.Bench))
		case f.Open():
			o.breaks("dropped", "slot %s of %s came due and has no outcome", slot.Local, o.name(slot.Bench))
		}
	}
	for b := range o.benches {
		o.settleBench(b)
	}
}

func inOrder(a, b schedule.Slot) int {
	return cmp.Or(cmp.Compare(a.Local, b.Local), cmp.Compare(a.Bench, b.Bench))
}

func (o *oracle) settleBench(b int) {
	k := &o.benches[b]
	for _, a := range k.asks {
		switch f, ok := o.m.storage.floods[a.id]; {
		case o.m.elapsed-a.at < 4*time.Hour:
		case !ok:
			o.breaks("hand", "a flood by hand was promised for %s, and nothing was heard of it for %s", o.name(b), o.m.elapsed-a.at)
		case f.Open():
			o.breaks("hand", "a flood by hand was promised for %s %s ago, and has no outcome", o.name(b), o.m.elapsed-a.at)
		}
	}
	for _, s := range k.skips {
		if s.done == 0 && !s.vague && !s.missed && !k.closed.on && !k.murky && o.m.elapsed-s.at > 2*day {
			o.breaks("skip", "a skip was promised for %s %s ago, and no flood was left out", o.name(b), o.m.elapsed-s.at)
		}
	}
}
