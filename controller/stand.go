package controller

import (
	"slices"
	"time"

	"benchtide/schedule"
)

// Stand is a row of floods by elapsed time that counted, each an interval after
// the one before, or a flood by elapsed time that a person skipped. It stands
// for the slots of about its time, once the calendar is back. From and To are
// on the boot-time clock.
type Stand struct {
	From    time.Duration  `json:"from"`
	To      time.Duration  `json:"to"`
	Skipped bool           `json:"skipped"`
	Slot    schedule.Civil `json:"slot"` // that the skip was asked for; 0 without one
}

// maxStands bounds what is remembered of a time without a calendar: more breaks
// than that forget the oldest.
const maxStands = 32

func (s *bench) stand(k Stand) {
	s.stands = append(s.stands, k)
	s.stands = s.stands[max(0, len(s.stands)-maxStands):]
}

// floodedByRate notes a flood by elapsed time that counted and began at a time
// of the boot-time clock.
func (c *Controller) floodedByRate(b int, at time.Duration) {
	s := &c.benches[b]
	if n := len(s.stands); n > 0 {
		last := &s.stands[n-1]
		if !last.Skipped && at-last.To <= c.interval(b)*3/2 && last.To >= c.outage.resumed {
			last.To = at
			return
		}
	}
	s.stand(Stand{From: at, To: at})
}

// standFor finds what stands for a slot: floods by elapsed time no further from
// it than half an interval. It is -1 for a slot that nothing stands for.
func (c *Controller) standFor(b int, p *schedule.Planned) int {
	s := &c.benches[b]
	if len(s.stands) == 0 {
		return -1
	}
	due, half := c.monoOf(p.Due), intervalOf(*p)/2
	return slices.IndexFunc(s.stands, func(k Stand) bool {
		return k.Slot != 0 && k.Slot == p.Slot.Local || k.From-half <= due && due < k.To+half
	})
}

// forgetStands drops what stands for no slot to come, now that those up to p
// are settled.
func (c *Controller) forgetStands(b int, p *schedule.Planned) {
	s := &c.benches[b]
	if len(s.stands) == 0 {
		return
	}
	due, interval := c.monoOf(p.Due), intervalOf(*p)
	s.stands = slices.DeleteFunc(s.stands, func(k Stand) bool { return k.To+interval < due })
}

// forgetStandsBefore drops what was before outages, up to edge, of which nobody
// will ever know how long they were: it cannot be said for which slots it stands.
func (s *bench) forgetStandsBefore(edge time.Duration) {
	s.stands = slices.DeleteFunc(s.stands, func(k Stand) bool { return k.To < edge })
}

// floodedInstead is the reason of a slot that a flood by elapsed time stood for.
const floodedInstead = "flooded by elapsed time while the clock was not trusted"

// skippedInstead is the reason of a slot whose flood by elapsed time a person left
// out.
const skippedInstead = "skipped by hand while the clock was not trusted"

// StoodFor reports whether another row already tells of the water of a slot, or
// of its skip: the row of the slot raises nothing and counts for nothing.
func (f *Flood) StoodFor() bool {
	return f.Outcome == Missed && f.Reason == floodedInstead || f.Outcome == Skipped && f.Reason == skippedInstead
}
