package alarm

import (
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// Saved is all of a list of alarms that must survive a restart.
type Saved struct {
	Boot    string        `json:"boot"` // identity of that boot
	Mono    time.Duration `json:"mono_ns"`
	Wall    time.Time     `json:"wall"`
	Trusted bool          `json:"trusted"`
	NextID  int64         `json:"next_id"`
	Alarms  []Alarm       `json:"alarms"`
	Week    Week          `json:"week"`
	Digest  time.Time     `json:"digest"`
}

// Save returns a copy of the list's state.
func (l *List) Save(now safety.Now, boot string) Saved {
	return Saved{
		Boot: boot, Mono: now.Mono, Wall: now.Wall, Trusted: now.Trusted,
		NextID: l.nextID, Alarms: l.Alarms(), Week: l.week, Digest: l.digest,
	}
}

// Resume returns a list of alarms that goes on from a state. In another boot
// the time in between counts when both wall readings were trusted; otherwise it
// counts as none, and every shelf ends: what was to be told again then is told
// now.
func Resume(r Rules, n controller.Names, s Saved, now safety.Now, boot string) *List {
	p := New(r, n)
	p.nextID, p.digest = max(1, s.NextID), s.Digest
	if s.Week.Floods != nil {
		p.week = s.Week
	}
	p.alarms = slices.Clone(s.Alarms)
	for i := range p.alarms {
		a := &p.alarms[i]
		a.Passing = a.Passing || endsWithTheProgram(a.Cause)
	}
	if boot != "" && s.Boot == boot && now.Mono >= s.Mono {
		return p
	}
	gap, known := now.Wall.Sub(s.Wall), s.Trusted && now.Trusted
	if !known || gap < 0 {
		gap = 0
	}
	shift := now.Mono - s.Mono - gap
	for i := range p.alarms {
		a := &p.alarms[i]
		a.Since, a.First, a.Last = a.Since+shift, a.First+shift, a.Last+shift
		switch {
		case a.Shelf == 0:
		case known:
			a.Shelf = max(1, a.Shelf+shift)
		default:
			a.unshelve()
		}
	}
	return p
}

// Unheard counts the alarms that wait to be acknowledged, by urgency.
func (l *List) Unheard(u controller.Urgency) (n int) {
	for i := range l.alarms {
		if a := &l.alarms[i]; a.Urgency == u && !a.Known && !a.silent() {
			n++
		}
	}
	return n
}
