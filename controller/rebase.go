package controller

import "time"

// clockReading is a reading of the boot-time clock in the state, and when it
// came to stand there.
type clockReading struct {
	at   *time.Duration
	made time.Duration
}

// clockReadings visits every reading of the boot-time clock that outlives a
// restart of a bench but the end of its pause. A restart brings them into the
// count of another boot, and the true length of an outage moves them, all
// together.
func (s *bench) clockReadings(visit func(clockReading)) {
	own := func(at *time.Duration) { visit(clockReading{at, *at}) }
	own(&s.elapsedFrom)
	if s.provenAt != 0 {
		own(&s.provenAt)
	}
	for i := range s.stands {
		own(&s.stands[i].From)
		own(&s.stands[i].To)
	}
	for i := range s.skips {
		k := &s.skips[i]
		visit(clockReading{&k.Due, k.Asked})
		own(&k.Asked)
	}
	own(&s.tap.At)
	if s.stoppedNear != 0 {
		own(&s.stoppedNear)
	}
	if s.sanitising.on() && s.sanitising.at != 0 {
		visit(clockReading{&s.sanitising.nudge, s.sanitising.at})
		own(&s.sanitising.at)
	}
	if s.gap.open {
		own(&s.gap.edge)
		own(&s.gap.anchor)
		for i := range s.gap.later {
			own(&s.gap.later[i].End)
		}
	}
}

// cropClockReadings does so for what is kept of batch i.
func (c *Controller) cropClockReadings(i int, visit func(clockReading)) {
	visit(clockReading{&c.crops[i].since, c.crops[i].since})
	for n := range c.progress[i].said {
		at := &c.progress[i].said[n].At
		visit(clockReading{at, *at})
	}
}

// rebase brings the clock readings of bench b from the count of a program that ended at
// a reading of its boot-time clock, a gap ago, into the present one.
func (c *Controller) rebase(b int, ended, gap time.Duration) {
	by := c.now.Mono - gap - ended
	c.benches[b].clockReadings(func(m clockReading) { *m.at += by })
}

// gap is an outage of unknown length, or several, as a bench counts it until
// the clock is trusted again.
type gap struct {
	open    bool
	assumed time.Duration // what it counts as: an interval for each
	anchor  time.Duration // the boot-time clock when the wall clock was last trusted before it, so counted
	edge    time.Duration // the boot-time clock at the end of the first
	later   []Lapse       // those after the first
}

// Lapse is an outage of unknown length after another one.
type Lapse struct {
	End     time.Duration `json:"end"` // boot-time clock
	Assumed time.Duration `json:"assumed"`
}

// maxLapses bounds how many outages in a row are told apart.
const maxLapses = 16

// lapsed adds an outage.
func (g *gap) lapsed(l Lapse) {
	if n := len(g.later); n == maxLapses {
		l.Assumed += g.later[n-1].Assumed
		g.later = g.later[:n-1]
	}
	g.later = append(g.later, l)
}

// beyond is how much longer than they were the outages after a reading are taken
// to have been, at the least: all of them together were of this length.
func (g *gap) beyond(made, length time.Duration) time.Duration {
	var assumed time.Duration
	for _, l := range g.later {
		if made < l.End {
			assumed += l.Assumed
		}
	}
	return max(0, assumed-length)
}

// latest is a reading of the boot-time clock had the outages after it been of no
// length.
func (g *gap) latest(at time.Duration) time.Duration {
	if g.open && at < g.edge {
		return at + g.assumed
	}
	return at + g.beyond(at, 0)
}

// settleGap moves what lies before the gap of bench b, once it is known at which
// reading of the boot-time clock its anchor was.
func (c *Controller) settleGap(b int, anchor time.Duration) {
	s := &c.benches[b]
	g := s.gap
	s.gap = gap{}
	if !g.open {
		return
	}
	by := anchor - g.anchor
	move := func(m clockReading) {
		if m.made < g.edge {
			*m.at += by
			return
		}
		*m.at += g.beyond(m.made, g.assumed-by)
	}
	s.clockReadings(move)
	for i := range c.crops {
		if c.setup.Batches[i].Bench == b {
			c.cropClockReadings(i, move)
		}
	}
	if p := &s.pause; p.on && p.made < g.edge {
		p.until += by - g.assumed
	}
}

// redate brings the wall times of what is known by the boot-time clock in line
// with a wall clock that was set.
func (c *Controller) redate(b int) {
	s := &c.benches[b]
	if s.provenAt != 0 {
		s.lastProven = c.corrected(s.lastProven, s.provenAt)
	}
	if s.pause.on {
		s.pause.untilWall = c.corrected(s.pause.untilWall, s.pause.until)
	}
	if s.sanitising.on() && s.sanitising.at != 0 {
		s.sanitising.since = c.corrected(s.sanitising.since, s.sanitising.at)
	}
}

// corrected is what the wall clock read at a time of the boot-time clock, given
// what it seemed to read, which may be off by what a clock slews.
func (c *Controller) corrected(seemed time.Time, at time.Duration) time.Time {
	if is := c.wallOf(at); is.Sub(seemed).Abs() > slewed {
		return is
	}
	return seemed
}

// slewed is how much a clock that is kept right without a step may differ from
// the boot-time clock over weeks.
const slewed = 2 * time.Minute

// wallOf is what the wall clock, as it stands now, read at a time of the
// boot-time clock.
func (c *Controller) wallOf(at time.Duration) time.Time {
	return c.now.Wall.Add(at - c.now.Mono)
}
