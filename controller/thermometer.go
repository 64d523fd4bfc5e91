package controller

import (
	"slices"

	"benchtide/safety"
)

// watchThermometers tells once of each thermometer that has said nothing that
// can be believed for so long that nobody knows any more how cold the solution
// is, and once when it is back. No flood waits for it.
func (c *Controller) watchThermometers() {
	for k := range c.view.Reservoirs {
		r := &c.setup.Limits.Reservoirs[k]
		if !r.Thermometer {
			continue
		}
		v, told := &c.view.Reservoirs[k], slices.Contains(c.silent, r.Name)
		switch due := v.TemperatureAt + safety.BelievedFor; {
		case v.Believed && told:
			c.silent = slices.DeleteFunc(c.silent, func(name string) bool { return name == r.Name })
			c.dirty = true
			c.tellGone(Today, -1, thermometerCause(r.Name), Parts{Happened: c.tank(k) + ": the thermometer can be believed again.", Done: "The bench is protected from frost."})
		case told || v.Believed && v.TemperatureAt == c.now.Mono:
		case c.now.Mono < due:
			c.wakeAt(due)
		default:
			c.silent = append(c.silent, r.Name)
			c.dirty = true
			c.tell(Today, -1, thermometerCause(r.Name), Parts{
				Happened: c.tank(k) + ": the thermometer has shown nothing that can be believed for an hour.",
				Done:     "Floods go on, and nothing keeps them off when the solution freezes: frost protection is off.",
				Do:       "Look at the thermometer and its wire. In frost pause the bench.",
			})
		}
	}
}

// resumeThermometers takes over of which a person was told; one that was taken out
// of the file is no trouble any more.
func (c *Controller) resumeThermometers(told []string) {
	for _, name := range told {
		fitted := slices.ContainsFunc(c.setup.Limits.Reservoirs, func(r safety.ReservoirLimits) bool { return r.Name == name && r.Thermometer })
		if fitted {
			c.silent = append(c.silent, name)
			continue
		}
		c.tellGone(Today, -1, thermometerCause(name), Parts{Happened: c.setup.Titles.Reservoir(name) + ": no thermometer is fitted any more."})
	}
}

func thermometerCause(reservoir string) string { return "thermometer-" + reservoir }
