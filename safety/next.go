package safety

import "time"

// soonest finds the earliest of several times that are still to come.
type soonest struct{ now, at time.Duration }

func (s *soonest) or(t time.Duration) {
	if t > s.now && t < s.at {
		s.at = t
	}
}

func (s *soonest) orFilter(f *filter) {
	if f.raw != f.Level {
		s.or(f.settles())
	}
}

// Next is when, on the boot-time clock, the guard next has something to do:
// the present time when it has something to show at once, Never when nothing
// is due.
func (g *Guard) Next() time.Duration {
	if g.again {
		return g.now.Mono
	}
	s := soonest{g.now.Mono, Never}
	s.orFilter(&g.button)
	if g.click.on {
		s.or(g.click.until)
	}
	for k := range g.tanks {
		s.orFilter(&g.tanks[k].low)
		s.or(g.tanks[k].warmth.stands())
		s.orFilter(&g.tanks[k].level)
	}
	for k := range g.stirrers {
		if g.stirrers[k].on {
			s.or(g.stirrers[k].limit())
		}
	}
	for i := range g.benches {
		b := &g.benches[i]
		b.switchesDue(&s)
		if b.pump {
			b.runDue(&s)
			s.or(g.counted(b))
		} else {
			b.idleDue(&s)
		}
	}
	return s.at
}

func (b *bench) switchesDue(s *soonest) {
	for _, p := range b.sensors() {
		s.orFilter(p.filter)
	}
	for _, f := range [...]*filter{&b.high, &b.leak} {
		if f.raw == Wet {
			s.or(f.rawSince + MakeDelay)
		}
	}
}

func (b *bench) runDue(s *soonest) {
	limit, _ := b.limit()
	s.or(limit)
	for _, p := range b.sensors() {
		if p.fitted && (p.fault || p.at < s.now) {
			s.or(p.at + StaleAfter + 1)
		}
	}
	switch {
	case !b.run.full && b.Full:
		s.or(b.fillBy())
	case b.run.full && b.full.Level == Dry:
		s.or(b.full.Since + LostFor)
	}
}

func (b *bench) idleDue(s *soonest) {
	r := &b.run
	if b.refused.Refused() {
		s.or(b.refused.Until)
	}
	if r.held {
		s.or(r.stopped + EnableLag)
	}
	if r.homing {
		s.or(b.homeBy())
	}
	if r.judging {
		s.or(b.judgedBy())
	}
	if r.water == Standing {
		s.or(r.stopped + b.Drain)
	}
	if b.full.Level == Wet {
		s.or(r.stopped + b.FallLimit())
		s.or(max(b.full.Since, r.stopped) + b.FallLimit())
	}
	if b.empty.Level == Wet {
		s.or(r.stopped + half3(b.Drain))
		s.or(max(b.empty.Since, r.stopped) + half3(b.Drain))
	}
}
