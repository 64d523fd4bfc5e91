package live

import (
	"sync"
	"time"
)

// StopHolds is how long a stop from near keeps floods from far away.
const StopHolds = 30 * time.Minute

// Presence remembers until when, by the site's clock, what somebody at a bench
// has stopped stays so for those who are far. Its zero value knows of nobody.
type Presence struct {
	until sync.Map // by the name of the bench: a time.Time
}

// Hold notes that somebody at these benches has stopped them now.
func (p *Presence) Hold(now time.Time, benches ...string) {
	for _, b := range benches {
		p.until.Store(b, now.Add(StopHolds))
	}
}

// Held returns until when a bench is held.
func (p *Presence) Held(now time.Time, bench string) (time.Time, bool) {
	v, known := p.until.Load(bench)
	if !known {
		return time.Time{}, false
	}
	until := v.(time.Time)
	return until, now.Before(until) && until.Sub(now) <= StopHolds // a clock that was set back holds nobody longer
}
