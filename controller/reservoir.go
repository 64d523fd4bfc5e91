package controller

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// lowFor is how long a low switch has to show too little, with all tables of
// its reservoir empty, before a person is told.
const lowFor = time.Minute

// watchReservoirs tells once of each reservoir that has too little water for a
// flood while none of it stands on a table: a leak, or plants that drank it. A
// flood that is due would only be refused, hours later.
func (c *Controller) watchReservoirs() {
	for k := range c.view.Reservoirs {
		c.watchHome(k)
		low := c.view.Reservoirs[k].Low
		if low.Level != safety.Dry {
			c.lowTold[k] = false
			continue
		}
		empty, since := c.tablesEmpty(k)
		if c.lowTold[k] || !empty {
			continue
		}
		if at := max(low.Since, since) + lowFor; c.now.Mono < at {
			c.wakeAt(at)
			continue
		}
		c.lowTold[k] = true
		r := &c.setup.Limits.Reservoirs[k]
		c.tell(Today, -1, "low-"+r.Name, Parts{
			Happened: fmt.Sprintf("%s: the low switch shows less than %s with every table empty, or its wire is open.", c.tank(k), c.volume(r.LowAt)),
			Do:       "Top it up before the next flood is due. If nothing has been watered since it was full, look for a leak.",
		})
	}
}

// tablesEmpty reports whether no water of a reservoir stands on a table, and
// since when.
func (c *Controller) tablesEmpty(reservoir int) (empty bool, since time.Duration) {
	for _, b := range c.drawing[reservoir] {
		v := &c.view.Benches[b]
		if v.Pump || v.Water != safety.Gone {
			return false, 0
		}
		since = max(since, v.GoneAt)
	}
	return true, since
}
