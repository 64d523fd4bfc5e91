package controller

import (
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// stirAhead is how long before its flood the stirrer of bench b's reservoir
// runs; 0 without one.
func (c *Controller) stirAhead(b int) time.Duration {
	if i := c.setup.stirrer(c.limits(b).Reservoir); i >= 0 {
		return c.setup.Limits.Stirrers[i].BeforeFlood
	}
	return 0
}

// stir wants each stirrer from a little before a flood of its reservoir is due
// until that flood's pump starts. The guard bounds how long.
func (c *Controller) stir() {
	for i := range c.setup.Limits.Stirrers {
		s := &c.setup.Limits.Stirrers[i]
		c.want.Stir[i] = c.stirWanted(s.Reservoir, s.BeforeFlood)
	}
}

func (c *Controller) stirWanted(reservoir int, before time.Duration) bool {
	wanted := false
	for _, b := range c.drawing[reservoir] {
		s := &c.benches[b]
		switch {
		case s.phase == Recording, len(s.queue) > 0:
			wanted = wanted || c.mayStir(b)
		case s.phase != Rest:
			return false
		case c.clock.calendar():
			if p, ok := c.nextFlood(b); ok {
				from := c.monoOf(p.Due) - before
				c.wakeAt(from)
				wanted = wanted || c.now.Mono >= from && c.mayStir(b)
			}
		}
	}
	return wanted
}

// mayStir reports whether stirring for bench b makes sense: not for a flood
// that waits for a person.
func (c *Controller) mayStir(b int) bool {
	v := &c.view.Benches[b]
	return len(v.Latched) == 0 && !c.benches[b].pause.on && !c.benches[b].sanitising.on() && v.Start.Interlock != safety.ReservoirLow
}

// switchOthers wants the outputs that are not pumps: air, lamps, the buzzer.
func (c *Controller) switchOthers() {
	for _, o := range c.setup.AlwaysOn {
		c.want.Other[o] = true
	}
	for i := range c.setup.DayOutputs {
		c.want.Other[c.setup.DayOutputs[i].Output] = c.inHours(&c.setup.DayOutputs[i])
	}
	for _, o := range c.setup.AlarmLamps {
		c.want.Other[o] = c.lamp
	}
	for _, o := range c.setup.AlarmHorns {
		c.want.Other[o] = c.horn
	}
	if c.setup.Buzzer < 0 {
		return
	}
	for b := range c.benches {
		if s := &c.benches[b]; s.phase == Recording && c.now.Mono < s.run.buzz {
			c.want.Other[c.setup.Buzzer] = true
		}
	}
}

// Signal says whether the lamps and horns of the alarms are wanted from the next
// turn on.
func (c *Controller) Signal(lamp, horn bool) { c.lamp, c.horn = lamp, horn }

// inHours reports whether a day output is on by the wall clock, and asks for a
// turn when it changes. Hours in a gap or an overlap follow what the clock on
// the wall shows.
func (c *Controller) inHours(o *DayOutput) bool {
	zone := c.setup.Calendar.Zone()
	here := schedule.CivilIn(c.now.Wall, zone)
	for _, t := range [...]schedule.TimeOfDay{o.On, o.Off} {
		at := here.Date().At(t)
		if at <= here {
			at = (here.Date() + 1).At(t)
		}
		c.wakeAtWall(at.In(zone))
	}
	now := here.TimeOfDay()
	if o.On < o.Off {
		return now >= o.On && now < o.Off
	}
	return now >= o.On || now < o.Off
}
