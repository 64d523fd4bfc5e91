package safety

import "time"

// stirrer is what the guard knows of one stirring pump.
type stirrer struct {
	*StirrerLimits
	enable int // index of the enable output; -1 without one
	on     bool
	since  time.Duration // when it was last switched on
	used   time.Duration // how long it ran before that in this stirring
	spent  bool          // off until no longer wanted
}

// allowStir decides on stirrer k. A stirring that reached its limit, or was
// cut off by an interlock, is over until the wish for it ends.
func (g *Guard) allowStir(k int, want bool) bool {
	s := &g.stirrers[k]
	now := g.now.Mono
	if !want {
		s.rest(now)
		s.used, s.spent = 0, false
		return false
	}
	if s.on && now >= s.limit() {
		s.halt(now)
	}
	switch on := !s.spent && g.mayStir(s); {
	case on && !s.on:
		s.on, s.since = true, now
	case !on:
		s.rest(now)
	}
	return s.on
}

// mayStir reports whether nothing but its own limit speaks against stirring.
func (g *Guard) mayStir(s *stirrer) bool {
	tank := &g.tanks[s.Reservoir]
	return !g.handsIn && !tank.cold && !tank.lowDry() && g.mayClose(s.enable)
}

// mayClose reports whether enable relay e may be closed.
func (g *Guard) mayClose(e int) bool {
	return g.relay(e) == relay{}
}

// limit is when the present stirring has to end.
func (s *stirrer) limit() time.Duration { return s.since + half3(s.BeforeFlood) - s.used }

func (s *stirrer) rest(now time.Duration) {
	if s.on {
		s.used += now - s.since
	}
	s.on = false
}

// halt ends a stirring for good; one that is not on is not touched.
func (s *stirrer) halt(now time.Duration) {
	s.spent = s.spent || s.on
	s.rest(now)
}

// lowDry reports whether a fitted low switch shows less than its litres.
func (t *reservoir) lowDry() bool { return t.Low && (t.low.Level == Dry || t.low.raw == Dry) }
