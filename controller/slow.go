package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// A leak that loses less in a flood than weighings err is seen by what many pairs
// of them have lost together: their errors cancel, and a leak does not.

// slow is what pairs of weighings lost together, beyond what the plants can have
// drunk, since it was last nothing.
type slow struct {
	Bench  string        `json:"bench"`
	Sum    safety.Litres `json:"sum"`
	Floods int           `json:"floods"`
	From   time.Time     `json:"from"`
}

// slowShare of V_flood lost together is more than a healthy bench shows (measured
// on simulated sites).
const slowShare = 0.1

// seep adds a pair that lost no more than weighings err.
func (c *Controller) seep(b int, s stretch, at time.Time) {
	k := c.limits(b).Reservoir
	w := &c.tanks[k].Slow
	if w.Sum <= 0 || w.Bench != s.Bench {
		*w = slow{Bench: s.Bench, From: s.From}
	}
	w.Sum, w.Floods = max(0, w.Sum+s.Over), w.Floods+1
	if w.Sum <= slowShare*c.limits(b).Flood {
		return
	}
	c.missing(k, s.Bench, w.Sum, w.From, at, false)
	c.tell(Today, b, LostCause, Parts{
		Happened: fmt.Sprintf("%s: %.0f L more than the plants can have drunk went little by little in %d floods since %s.", s.Bench, float64(w.Sum), w.Floods, c.local(w.From)),
		Do:       "Look for a small leak: drops under the table, at the hose and at the standpipe. " + c.orTookOut(k),
	})
	*w = slow{}
}
