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
	Sum    safety.Litres `json:"sum"`
	Floods int           `json:"floods"`
	From   time.Time     `json:"from"`
	Told   time.Time     `json:"told"` // when a person last was; zero when nobody, or somebody has answered
}

// Of the margin of one pair so much may be lost in each without end, and so many
// margins together (measured on simulated sites: plants that drink more than the
// file's forecast for weeks, or a fill that is not as the sheet has it).
const (
	slowDrift = 0.1
	slowSum   = 2
	slowAgain = 30 * 24 * time.Hour // what goes on is told again; until then its litres add up where they are shown
)

// seep adds a pair that lost no more than weighings err.
func (c *Controller) seep(b int, s stretch, at time.Time) {
	k, margin := c.limits(b).Reservoir, c.margin(b)
	w := &c.benches[b].slow
	if w.Sum <= 0 {
		*w = slow{From: s.From, Told: w.Told}
	}
	c.dirty = true
	w.Sum, w.Floods = max(0, w.Sum+s.Over-slowDrift*margin), w.Floods+1
	if w.Sum <= slowSum*margin {
		return
	}
	litres, floods, from := w.Sum, w.Floods, w.From
	known := !w.Told.IsZero() && at.Sub(w.Told) < slowAgain
	c.missing(k, s.Bench, litres, from, at, known)
	if *w = (slow{Told: w.Told}); known {
		return
	}
	w.Told = at
	c.tell(Today, b, LostCause, Parts{
		Happened: fmt.Sprintf("%s: %.0f L more than the plants can have drunk went little by little in %d floods since %s.", s.Bench, float64(litres), floods, c.local(from)),
		Do:       "Look for a small leak: drops under the table, at the hose and at the standpipe. " + c.orTookOut(k),
	})
}

// dryOut forgets what benches of a reservoir lost little by little.
func (c *Controller) dryOut(k int) {
	for _, b := range c.drawing[k] {
		c.benches[b].slow = slow{}
	}
}
