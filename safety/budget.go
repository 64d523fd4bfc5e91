package safety

import "time"

// The budgets of a flood pump.
const (
	RestMargin    = 2 * time.Minute // on top of Drain, between runs
	StartsPerHour = 6
	StartsPerDay  = 40
	day           = 24 * time.Hour
)

// Span is one run of a flood pump on the boot-time clock.
type Span struct {
	Start time.Duration `json:"start_ns"`
	Stop  time.Duration `json:"stop_ns"` // equal to Start while the pump runs
}

// runs keeps the latest runs of a pump: a day's most starts, and one more that
// may reach into that day.
type runs struct {
	ring  [StartsPerDay + 1]Span
	count int
}

func (r *runs) begin(now time.Duration) {
	r.ring[r.count%len(r.ring)] = Span{now, now}
	r.count++
}

func (r *runs) end(now time.Duration) { r.back(0).Stop = now }

// back returns the run n before the last one.
func (r *runs) back(n int) *Span { return &r.ring[(r.count-1-n)%len(r.ring)] }

func (r *runs) len() int { return min(r.count, len(r.ring)) }

// used is the pump time in the 24 h before now.
func (r *runs) used(now time.Duration) time.Duration {
	var sum time.Duration
	for n := range r.len() {
		s := r.back(n)
		sum += max(0, s.Stop-max(s.Start, now-day))
	}
	return sum
}

// frees is when the used time of the rolling day will have fallen by excess.
func (r *runs) frees(now, excess time.Duration) time.Duration {
	var until time.Duration
	for n := r.len() - 1; n >= 0 && excess > 0; n-- {
		s := r.back(n)
		from := max(s.Start, now-day)
		part := min(excess, max(0, s.Stop-from))
		until = from + part + day
		excess -= part
	}
	return until
}

// full reports whether n starts lie within window, and when one leaves it.
func (r *runs) full(now time.Duration, n int, window time.Duration) (until time.Duration, full bool) {
	if r.len() < n {
		return 0, false
	}
	until = r.back(n-1).Start + window
	return until, now < until
}

// dailyLimit is the pump time allowed in a rolling day.
func (b *bench) dailyLimit() time.Duration { return max(b.DailyRun, 4*b.MaxRun(b.MaxHold)) }

// plainRun is what an ordinary run takes: a start that left it no room within
// the day would only end in a latched trip.
func (b *bench) plainRun() time.Duration { return min(b.Fill+b.MaxHold, b.MaxRun(b.MaxHold)) }

// recent drops from times those that are further back than window, and adds now.
func recent(times []time.Duration, now, window time.Duration) []time.Duration {
	var kept []time.Duration
	for _, t := range times {
		if now-t < window {
			kept = append(kept, t)
		}
	}
	return append(kept, now)
}
