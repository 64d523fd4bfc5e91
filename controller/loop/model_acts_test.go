package loop_test

import (
	"slices"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/schedule"
)

// playAct plays what a person asks for.
func (p *player) playAct(b int, where string, k *told, s *step) {
	o, now, turn := p.oracle, p.elapsed, p.storage.turn+1
	switch s.kind {
	case "flood":
		p.flood(b, k)
	case "stop":
		p.stopFlood(b, k)
	case "skip":
		p.skip(b, k)
	case "take back":
		p.takeBack(b, k)
	case "pause":
		until := p.Now().Wall.Add(s.span)
		err := p.act(func(c loop.Core) error { return c.Controller.Pause(c.Now, b, until, "") })
		if p.answer(err, "pause %s for %s", where, s.span) {
			k.pause = paused{word: word{on: true, turn: turn}, until: now + s.span, wall: until, measured: true}
		}
	case "resume":
		err := p.act(func(c loop.Core) error { return c.Controller.Resume(c.Now, b) })
		if p.answer(err, "resume %s", where) {
			k.pause.say(false, turn)
		} else if k.pause.is() && now < k.pause.until {
			o.breaks("pause", "%s was paused, and cannot be resumed: %v", where, err)
		}
	case "hands in", "hands out":
		on := s.kind == "hands in"
		_ = p.act(func(c loop.Core) error { c.Guard.SetHandsIn(c.Now, on); return nil })
		p.say("%s", s.kind)
		o.handsIn.say(on, turn)
	case "reset":
		p.reset(b, k)
	case "sanitise", "rinsed":
		p.sanitise(b, where, s)
	default:
		p.batch(b, where, k, s)
	}
}

func (p *player) flood(b int, k *told) {
	err := p.act(func(c loop.Core) error { return c.Controller.Flood(c.Now, b, 0) })
	if p.answer(err, "flood %s", p.oracle.name(b)) {
		k.asks = append(k.asks, &ask{at: p.elapsed, turn: p.storage.turn + 1})
		k.halt.on = false
		if k.tap.act == "stop" {
			k.tap = tapped{}
		}
	}
}

func (p *player) stopFlood(b int, k *told) {
	st := p.oracle.status.Benches[b]
	waits := p.oracle.waiting(k)
	err := p.act(func(c loop.Core) error { return c.Controller.StopFlood(c.Now, b) })
	if !p.answer(err, "stop %s", p.oracle.name(b)) {
		if p.pumps(b) {
			p.oracle.breaks("stop", "the pump of %s is on, and a stop is refused: %v", p.oracle.name(b), err)
		}
		if waits != nil && st.Phase == controller.Rest && st.Queued > 0 {
			p.oracle.breaks("stop", "a flood by hand waits on %s, and a stop is refused: %v", p.oracle.name(b), err)
		}
		return
	}
	k.again("stop", p.elapsed)
	k.halt = halted{on: true, now: true, at: p.elapsed, id: st.Flood.ID, wall: p.Now().Wall, waited: st.Queued > 0}
	for _, a := range k.asks {
		a.stopped = a.stopped || !p.oracle.over(a)
	}
}

// waiting is a flood by hand that was promised and has not ended.
func (o *oracle) waiting(k *told) *ask {
	for _, a := range k.asks {
		if !a.stopped && !o.over(a) {
			return a
		}
	}
	return nil
}

// over reports whether a flood that was asked for has its outcome.
func (o *oracle) over(a *ask) bool {
	f, ok := o.ended[a.id]
	return ok && !f.Open()
}

func (p *player) skip(b int, k *told) {
	st := p.oracle.status.Benches[b]
	var slot schedule.Planned
	err := p.act(func(c loop.Core) (err error) {
		slot, err = c.Controller.SkipNext(c.Now, b)
		return err
	})
	ok := slot.Slot.Local != 0 // it has none while floods follow elapsed time
	if !p.answer(err, "skip %s", p.oracle.name(b)) {
		return
	}
	if ok {
		p.say("it leaves out that of %s", p.oracle.local(slot.Due))
	}
	named := slices.ContainsFunc(k.skips, func(s *skip) bool { return s.done == 0 && ok && s.hasSlot && s.slot == slot.Slot.Local })
	if k.again("skip", p.elapsed) || named {
		return
	}
	s := &skip{at: p.elapsed, turn: p.storage.turn + 1, slot: slot.Slot.Local, hasSlot: ok, due: slot.Due, wall: p.Now().Wall, queued: st.Queued > 0}
	s.moment = s.at + s.due.Sub(s.wall)
	if st.Phase != controller.Rest {
		s.before = st.Flood
	}
	k.skips = append(k.skips, s)
}

func (p *player) takeBack(b int, k *told) {
	err := p.act(func(c loop.Core) error {
		_, err := c.Controller.UndoSkip(c.Now, b, 0)
		return err
	})
	if !p.answer(err, "take the skip on %s back", p.oracle.name(b)) {
		return
	}
	if k.again("take back", p.elapsed) {
		return
	}
	for i := len(k.skips) - 1; i >= 0; i-- {
		if s := k.skips[i]; s.done == 0 {
			s.done = p.storage.turn + 1
			return
		}
	}
	p.oracle.breaks("skip", "a skip on %s was taken back that nobody asked for", p.oracle.name(b))
}

func (p *player) reset(b int, k *told) {
	err := p.act(func(c loop.Core) error { return c.Guard.Reset(c.Now, b, "a leaf") })
	if p.answer(err, "reset %s", p.oracle.name(b)) {
		if k.latched.isNot() {
			p.oracle.breaks("latch", "%s was reset, and nobody was told that it was latched", p.oracle.name(b))
		}
		k.latched.say(false, p.storage.turn+1)
	}
}

func (p *player) sanitise(b int, where string, s *step) {
	on := s.kind == "sanitise"
	err := p.act(func(c loop.Core) error {
		if on {
			return c.Controller.Sanitise(c.Now, b, "")
		}
		return c.Controller.Rinsed(c.Now, b, "")
	})
	if !p.answer(err, "%s %s", s.kind, where) {
		return
	}
	for other := range p.oracle.benches {
		if p.limits.Benches[other].Reservoir == p.limits.Benches[b].Reservoir {
			p.oracle.benches[other].sanitising.say(on, p.storage.turn+1)
		}
	}
}

// batch plays what a person says of the batch on a bench.
func (p *player) batch(b int, where string, k *told, s *step) {
	o := p.oracle
	batch, today := &o.batches[b], schedule.CivilIn(p.Now().Wall, dublin).Date()
	switch s.kind {
	case "advance":
		stage := s.dice % 2
		err := p.act(func(c loop.Core) error { return c.Controller.Advance(c.Now, b, stage) })
		if !p.answer(err, "advance %s to stage %d", where, stage) {
			return
		}
		batch.Passages = append(batch.Passages, schedule.Passage{On: today, Stage: stage})
		for _, s := range k.skips {
			s.vague = true // another flood may come before the one that was named
		}
	case "close":
		err := p.act(func(c loop.Core) error { return c.Controller.Close(c.Now, b, today.AddDays(-1)) })
		if !p.answer(err, "close %s", where) {
			return
		}
		k.closed.say(true, p.storage.turn+1)
		batch.Closed = today.AddDays(-1)
	case "reopen":
		err := p.act(func(c loop.Core) error { return c.Controller.Close(c.Now, b, 0) })
		if !p.answer(err, "reopen %s", where) {
			return
		}
		k.closed.say(false, p.storage.turn+1)
		batch.Closed = 0
	}
	k.murky = k.murky || p.wrong != 0 || !p.trusted
	k.changed = p.storage.turn + 1
	o.calendar.Change(b, batch.Closed, batch.Passages)
}
