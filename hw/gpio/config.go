package gpio

import (
	"log/slog"

	"benchtide/hw/lines"
	"benchtide/safety"
)

// Pull says where the resistor of a switch line goes, and with it what a
// closed contact reads.
type Pull uint8

// The pulls. Chips without resistors of their own ignore the first two and
// need one outside, to the same side.
const (
	PullUp   Pull = iota // contact to ground: closed reads low
	PullDown             // contact to the supply: closed reads high
	PullNone             // a resistor outside, to the supply; contact to ground: closed reads low
)

// Output is one relay line.
type Output struct {
	Name         string // for messages
	Line         lines.Line
	EnergiseHigh bool // the relay energises on a high level, else on a low one
	Kind         safety.OutputKind
}

// Switch is the line of one contact. Without a Line it is not fitted.
type Switch struct {
	Line        lines.Line
	WaterCloses bool // water (or a pressed button) closes the contact, else opens it
	Pull        Pull
}

// Bench holds the switches of one bench, by their place.
type Bench struct {
	Name                    string // for messages
	Full, High, Empty, Leak Switch
}

// Reservoir holds the sensors of one reservoir.
type Reservoir struct {
	Name  string // for messages
	Low   Switch
	Level Switch

	// Thermometer is a file that reads as whole thousandths of a degree
	// Celsius, as the kernel's one-wire, hwmon and iio drivers offer.
	Thermometer string
}

// Config is the wiring of a site. Outputs, Benches and Reservoirs are indexed
// as in safety.Limits.
type Config struct {
	Outputs    []Output
	Benches    []Bench
	Reservoirs []Reservoir
	HandsIn    Switch

	Log *slog.Logger // told when switches stop answering; nil for nobody
}

// fitted is a switch with its place in the readings.
type fitted struct {
	Switch
	use     string // "switch north.full", for messages
	reading func(*safety.Readings) *safety.Reading
}

// fitted lists the switches that have a line.
func (c *Config) fitted() []fitted {
	var all []fitted
	add := func(s Switch, use string, place func(*safety.Readings) *safety.Reading) {
		if s.Line.Fitted() {
			all = append(all, fitted{s, "switch " + use, place})
		}
	}
	for i, b := range c.Benches {
		add(b.Full, b.Name+".full", func(r *safety.Readings) *safety.Reading { return &r.Benches[i].Full })
		add(b.High, b.Name+".high", func(r *safety.Readings) *safety.Reading { return &r.Benches[i].High })
		add(b.Empty, b.Name+".empty", func(r *safety.Readings) *safety.Reading { return &r.Benches[i].Empty })
		add(b.Leak, b.Name+".leak", func(r *safety.Readings) *safety.Reading { return &r.Benches[i].Leak })
	}
	for i, res := range c.Reservoirs {
		add(res.Low, res.Name+".low", func(r *safety.Readings) *safety.Reading { return &r.Reservoirs[i].Low })
		add(res.Level, res.Name+".level", func(r *safety.Readings) *safety.Reading { return &r.Reservoirs[i].Level })
	}
	add(c.HandsIn, "hands_in", func(r *safety.Readings) *safety.Reading { return &r.HandsIn })
	return all
}

// level says what a line's electrical level means at this switch.
func (s Switch) level(high bool) safety.Level {
	closed := high == (s.Pull == PullDown)
	if closed == s.WaterCloses {
		return safety.Wet
	}
	return safety.Dry
}
