package controller

import (
	"maps"
	"time"

	"benchtide/safety"
)

// adviseEvery is after how long advice on the same matter is told once more.
const adviseEvery = 7 * 24 * time.Hour

// Advise has a person told what is worth a look but no fault, unless it was told
// within the week; a restart forgets nothing of that. It goes with the events of
// the next turn.
func (c *Controller) Advise(now safety.Now, m Message) {
	maps.DeleteFunc(c.advised, func(_ string, at time.Time) bool { return now.Wall.Sub(at).Abs() >= adviseEvery })
	if _, told := c.advised[m.Cause]; told {
		return
	}
	if c.advised == nil {
		c.advised = make(map[string]time.Time)
	}
	c.advised[m.Cause], c.dirty = now.Wall, true
	c.Tell(m)
}
