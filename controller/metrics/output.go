package metrics

import "time"

// output adds up how long one output was commanded on.
type output struct {
	on    bool
	since time.Duration // boot-time clock when it last went on
	ran   time.Duration // until it last went off
	shown time.Duration // the most that a scrape was told
}

func (o *output) change(on bool, at time.Duration) {
	if o.on {
		o.ran += at - o.since
	}
	o.on, o.since = on, at
}

// total is the time on, up to the boot-time clock now. It never falls: a
// scrape may read the clock a moment after the turn that is about to say that
// the output went off, and a counter that falls reads as a restart.
func (o *output) total(now time.Duration) time.Duration {
	t := o.ran
	if o.on {
		t += max(0, now-o.since)
	}
	o.shown = max(o.shown, t)
	return o.shown
}
