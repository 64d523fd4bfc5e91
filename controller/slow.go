package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// A leak that loses less in a flood than weighings err is seen by what many pairs
// of them have lost together: their errors cancel, and a leak does not. One that
// begins is seen sooner, by how far the pairs rise over what they usually show.

// slow is what pairs of weighings lost together.
type slow struct {
	Sum    safety.Litres `json:"sum"` // beyond what the plants can have drunk, since it was last nothing
	Floods int           `json:"floods"`
	From   time.Time     `json:"from"`

	Jump  safety.Litres `json:"jump,omitzero"`  // more than the bench's pairs usually show, since it was last nothing
	Risen safety.Litres `json:"risen,omitzero"` // and in these pairs more than the plants can have drunk
	Pairs int           `json:"pairs,omitzero"`
	Since time.Time     `json:"since,omitzero"` // when these began

	Told time.Time `json:"told"` // when a person last was; zero when nobody, or somebody has answered
}

// Of the margin of one pair so much may be lost in each without end, and so many
// margins together (measured on simulated sites: plants that drink more than the
// file's forecast for weeks, or a fill that is not as the sheet has it).
const (
	slowDrift = 0.1
	slowSum   = 2
	slowAgain = 30 * 24 * time.Hour // what goes on is told again; until then its litres add up where they are shown
)

// What weighings err is much the same from pair to pair, and so is how far plants
// stay under their hottest days: so a rise shows by less (measured on simulated
// sites, the margin of one pair being 1). What rose has still to be more than plants
// can have drunk: a hot spell after mild days is no leak.
const (
	jumpDrift = 0.3
	jumpSum   = 0.8
	jumpRisen = 0.3
	jumpPairs = 2 // one may be litres that somebody wrote down wrong
)

// seep adds a pair that lost no more than weighings err, of bench b and the bench
// that weighed after it.
func (c *Controller) seep(b, by int, s stretch, at time.Time) {
	k, margin := c.limits(b).Reservoir, c.margin(b)
	w := &c.benches[b].slow
	c.dirty = true
	w.add(s, margin, c.tanks[k].Slow)
	w.rise(s, margin, c.overUsual(b, by, s.Over))
	if w.Jump <= 0 || !w.Told.IsZero() && at.Sub(w.Told) < slowAgain {
		c.learn(b, by, s.Over, margin)
	}
	switch {
	case w.Sum > slowSum*margin:
		c.seeps(b, s.Bench, w.Sum, w.Floods, w.From, at)
	case w.Jump > jumpSum*margin && w.Risen > jumpRisen*margin && w.Pairs >= jumpPairs:
		c.seeps(b, s.Bench, w.Risen, w.Pairs, w.Since, at)
	}
}

// add adds a pair to the sum. No bench lost more than all of its reservoir: what
// weighings by two benches differ by comes back when the first weighs again.
func (w *slow) add(s stretch, margin, all safety.Litres) {
	if w.Sum <= 0 {
		w.Sum, w.Floods, w.From = 0, 0, s.From
	}
	w.Sum, w.Floods = min(max(0, w.Sum+s.Over-slowDrift*margin), all), w.Floods+1
}

// rise adds a pair that showed so much more than is usual to the jump.
func (w *slow) rise(s stretch, margin, more safety.Litres) {
	if w.Jump <= 0 {
		w.Risen, w.Pairs, w.Since = 0, 0, s.From
	}
	w.Jump, w.Risen, w.Pairs = max(0, w.Jump+more-jumpDrift*margin), w.Risen+s.Over, w.Pairs+1
}

// seeps tells that a bench lost so many litres in so many floods, unless it was
// told not long ago.
func (c *Controller) seeps(b int, name string, litres safety.Litres, floods int, from, at time.Time) {
	w := &c.benches[b].slow
	known := !w.Told.IsZero() && at.Sub(w.Told) < slowAgain
	c.missing(c.limits(b).Reservoir, name, litres, from, at, known)
	if *w = (slow{Told: w.Told}); known {
		return
	}
	w.Told = at
	c.tell(Today, b, LostCause, Parts{
		Happened: fmt.Sprintf("%s: %s more than the plants can have drunk went little by little in %d floods since %s.", name, c.volume(litres), floods, c.local(from)),
		Do:       "Look for a small leak: drops under the table, at the hose and at the standpipe. " + c.orTookOut(c.limits(b).Reservoir),
	})
}

// dryOut forgets what a reservoir and its benches lost little by little.
func (c *Controller) dryOut(k int) {
	c.tanks[k].Slow = 0
	for _, b := range c.drawing[k] {
		c.benches[b].slow = slow{}
	}
}
