package commission

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/safety"
)

// sensor is one switch, and how a person finds and moves it.
type sensor struct {
	*config.Switch
	where    string       // as Hands and events know it
	name     string       // as a person does
	wet, dry string       // what to do for either level
	safe     safety.Level // what a broken wire ought to read as
	level    func() safety.Level
}

// motion is one thing to do to a switch, and the level that has to show then.
type motion struct {
	act  Act
	ask  string
	want safety.Level
	show string // what the level means to a person
}

// switchesOf lists the switches that are tested with bench i: its own, and
// those of its reservoir.
func (d *dialogue) switchesOf(i int) (all []sensor) {
	b, tank := &d.site.Benches[i], d.site.Benches[i].Reservoir
	float := func(s *config.Switch, kind string, level func() safety.Level) {
		name := strings.ToUpper(kind) + " of " + d.bench(i)
		all = append(all, sensor{s, b.Name + "." + kind, name, "Lift the float of " + name, "Lower the float of " + name, safety.Wet, level})
	}
	float(b.Full, "full", func() safety.Level { return d.status.Benches[i].Full })
	float(b.High, "high", func() safety.Level { return d.status.Benches[i].High })
	float(b.Empty, "empty", func() safety.Level { return d.status.Benches[i].Empty })
	leak := "the floor sensor of " + d.bench(i)
	all = append(all, sensor{b.Leak, b.Name + ".leak", leak, "Wet " + leak, "Dry " + leak, safety.Wet,
		func() safety.Level { return d.status.Benches[i].Leak }})
	r := &d.site.Reservoirs[tank]
	low := "the low switch of " + d.tank(i)
	all = append(all, sensor{r.Low, r.Name + ".low", low, "Let the float of " + low + " rise", "Push the float of " + low + " down", safety.Dry,
		func() safety.Level { return d.status.Reservoirs[tank].Low }})
	level := "the level switch of " + d.tank(i)
	all = append(all, sensor{r.Level, r.Name + ".level", level, "Let the float of " + level + " rise", "Push the float of " + level + " down", safety.Dry,
		func() safety.Level { return d.status.Reservoirs[tank].Level }})
	return fitted(all)
}

func fitted(all []sensor) []sensor {
	return slices.DeleteFunc(all, func(p sensor) bool { return p.Switch == nil })
}

// button is the hands-in button; its level shows while no command gives hands-in.
func (d *dialogue) button() []sensor {
	return fitted([]sensor{{d.site.HandsIn, "hands_in", "the hands-in button", "Press the hands-in button and hold it", "Let the hands-in button go", safety.Wet,
		func() safety.Level {
			if d.status.HandsIn {
				return safety.Wet
			}
			return safety.Dry
		}}})
}

func other(l safety.Level) safety.Level {
	if l == safety.Wet {
		return safety.Dry
	}
	return safety.Wet
}

// closed reports whether the contact is closed at a level.
func (p sensor) closed(l safety.Level) bool { return (l == safety.Wet) == p.Closes }

// move brings the switch to a level by hand.
func (p sensor) move(to safety.Level) motion {
	if to == safety.Wet {
		return motion{Wet, p.wet, to, "up"}
	}
	return motion{Dry, p.dry, to, "down"}
}

// wire opens or bridges the wire, whichever shows at a level, and undoes it.
func (p sensor) wire(at safety.Level) []motion {
	flipped := other(at)
	reads := "reads as " + reading(flipped) + ", the safe way"
	if flipped != p.safe {
		reads = "reads as " + reading(flipped) + "; the program cannot tell it from that"
	}
	if p.closed(at) {
		return []motion{
			{Open, "Open the wire of " + p.name, flipped, "wire open: " + reads},
			{Rejoin, "Close the wire of " + p.name + " again", at, "wire whole"},
		}
	}
	return []motion{
		{Bridge, "Bridge the two wires of " + p.name, flipped, "wires bridged: " + reads},
		{Part, "Take the bridge from " + p.name, at, "no bridge"},
	}
}

// whole is the whole test of a switch: moved both ways, its wire opened in the
// position in which that shows, and bridged in the other.
func (p sensor) whole() []motion {
	at := p.level()
	all := append([]motion{p.move(other(at))}, p.wire(other(at))...)
	all = append(all, p.move(at))
	return append(all, p.wire(at)...)
}

// brief only moves the switch both ways.
func (p sensor) brief() []motion {
	at := p.level()
	return []motion{p.move(other(at)), p.move(at)}
}

// tries is how long a person has for one motion before they are asked.
const tries = 2 * time.Minute

// test takes a person through the motions of one switch.
func (d *dialogue) test(p sensor, motions []motion) error {
	d.say("%s, line %s: %s", p.name, p.Line, reading(p.level()))
	for _, m := range motions {
		if err := d.watch(p, m); err != nil {
			return err
		}
	}
	return nil
}

func reading(l safety.Level) string {
	switch l {
	case safety.Wet:
		return "up"
	case safety.Dry:
		return "down"
	}
	return l.String()
}

// watch asks for one motion until its level shows.
func (d *dialogue) watch(p sensor, m motion) error {
	for {
		d.changed = ""
		d.say("  %s.", m.ask)
		if err := d.byHand(m.act, p.where); err != nil {
			return err
		}
		strange := ""
		err := d.until(tries, func() bool {
			if d.changed != "" && d.changed != p.where && strange == "" {
				strange = d.changed
				d.say("    %s changed, not %s: are their wires swapped?", strange, p.where)
			}
			return p.level() == m.want
		})
		if err == nil {
			d.say("    %s: %s", p.where, m.show)
			return nil
		}
		if !errors.Is(err, errLate) {
			return err
		}
		if err := d.again(fmt.Sprintf("%s still reads %s", p.where, reading(p.level())),
			"mend the switch, its wire and its line, or the file, and start again"); err != nil {
			return err
		}
	}
}

// again asks whether to try once more what did not work.
func (d *dialogue) again(what, remedy string) error {
	answer, err := d.choose(what+". Try again?", "yes", "no")
	if err == nil && answer == "no" {
		err = fmt.Errorf("%w: %s: %s", ErrFailed, what, remedy)
	}
	return err
}

// byHand has the hands of a simulated bench do what the person is asked.
func (d *dialogue) byHand(a Act, where string) error {
	if d.Hands == nil {
		return nil
	}
	if err := d.Hands.Do(a, where); err != nil {
		return err
	}
	return d.turn()
}

// prove begins or ends the proof test of a bench, in which its switches may
// change without a trip.
func (d *dialogue) prove(i int, on bool) error {
	if on {
		if err := d.settled(i); err != nil {
			return err
		}
	}
	return d.act(func(c loop.Core) error { return c.Guard.ProofTest(c.Now, i, on) })
}

// settled waits until no water of the bench's reservoir is to come home. After
// a program start each table counts as full until it must have drained.
func (d *dialogue) settled(i int) error {
	home := func() bool {
		for b := range d.site.Benches {
			if d.site.Benches[b].Reservoir == d.site.Benches[i].Reservoir && d.status.Benches[b].Water != safety.Gone {
				return false
			}
		}
		return true
	}
	d.loop.Controller.StatusInto(&d.status)
	if home() {
		return nil
	}
	d.say("Waiting until the tables count as bare: up to %s.", quantity.Duration(2*d.limits(i).Drain))
	err := d.until(2*d.limits(i).Drain, home)
	if errors.Is(err, errLate) {
		err = fmt.Errorf("%w: a switch of %s shows water: drain the table, or free the switch", ErrFailed, d.bench(i))
	}
	return err
}

func (d *dialogue) limits(i int) *safety.BenchLimits { return &d.loop.Limits.Benches[i] }
