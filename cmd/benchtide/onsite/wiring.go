package onsite

import (
	"benchtide/controller/config"
	"benchtide/hw/gpio"
)

// Wiring is what the GPIO board has to know of the site.
func Wiring(site *config.Site) gpio.Config {
	var c gpio.Config
	for i, o := range site.Outputs {
		c.Outputs = append(c.Outputs, gpio.Output{Name: o.Name, Line: o.Line, EnergiseHigh: o.EnergiseHigh, Kind: site.GuardKind(i)})
	}
	for _, b := range site.Benches {
		c.Benches = append(c.Benches, gpio.Bench{
			Name: b.Name, Full: contact(b.Full), High: contact(b.High), Empty: contact(b.Empty), Leak: contact(b.Leak),
		})
	}
	for _, r := range site.Reservoirs {
		c.Reservoirs = append(c.Reservoirs, gpio.Reservoir{Name: r.Name, Low: contact(r.Low), Level: contact(r.Level), Thermometer: r.Thermometer})
	}
	c.HandsIn = contact(site.HandsIn)
	return c
}

var pulls = map[config.Pull]gpio.Pull{config.PullUp: gpio.PullUp, config.PullDown: gpio.PullDown, config.PullNone: gpio.PullNone}

// contact is the line of a switch; none when it is not fitted.
func contact(s *config.Switch) gpio.Switch {
	if s == nil {
		return gpio.Switch{}
	}
	return gpio.Switch{Line: s.Line, WaterCloses: s.Closes, Pull: pulls[s.Pull]}
}
