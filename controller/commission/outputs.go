package commission

import (
	"fmt"
	"time"

	"benchtide/controller/loop"
	"benchtide/safety"
)

// outputs has each relay click, one after the other.
func (d *dialogue) outputs(int) error {
	if err := d.giveHandsIn(true); err != nil {
		return err
	}
	for i := range d.Site.Outputs {
		name := d.Site.Outputs[i].Name
		err := d.heard(i, fmt.Sprintf("Did the relay of %s click, light up and drop again?", name),
			fmt.Sprintf("look at the line of %s, its supply and its polarity", name))
		if err != nil {
			return err
		}
	}
	return nil
}

// heard clicks an output until a person says what it did.
func (d *dialogue) heard(output int, question, remedy string) error {
	for {
		d.say("  %s (%s) clicks.", d.Site.Outputs[output].Name, d.Site.Outputs[output].Line)
		if err := d.click(output); err != nil {
			return err
		}
		switch answer, err := d.choose(question, "yes", "again", "no"); {
		case err != nil:
			return err
		case answer == "yes":
			return nil
		case answer == "no":
			return fmt.Errorf("%w: %s", ErrFailed, remedy)
		}
	}
}

// clickFor is how long a relay clicks.
const clickFor = time.Second

func (d *dialogue) click(output int) error {
	set := func(on bool) error {
		return d.act(func(c loop.Core) error { return c.Guard.Click(c.Now, output, on) })
	}
	if err := set(true); err != nil {
		return err
	}
	if d.Hands != nil {
		d.say("    its simulated contact is %s", map[bool]string{true: "closed", false: "open"}[d.Hands.Closed(output)])
	}
	if err := d.pass(clickFor); err != nil {
		return err
	}
	if err := set(false); err != nil {
		return err
	}
	return d.pass(safety.EnableLag)
}

// switches takes a person through every switch of a bench.
func (d *dialogue) switches(i int) error {
	return d.underTest(i, func() error {
		for _, p := range d.switchesOf(i) {
			if err := d.test(p, p.whole()); err != nil {
				return err
			}
		}
		return nil
	})
}

// underTest does something under hands-in and the proof test of bench i.
func (d *dialogue) underTest(i int, do func() error) error {
	if err := d.giveHandsIn(true); err != nil {
		return err
	}
	if err := d.prove(i, true); err != nil {
		return err
	}
	if err := do(); err != nil {
		return err
	}
	return d.prove(i, false)
}

// highDrops shows that a raised HIGH keeps the enable relay open by its own
// wire, whatever the program commands.
func (d *dialogue) highDrops(i int) error {
	high, enable := d.Site.Benches[i].High != nil, d.Site.Outputs[d.Site.Benches[i].Pump].Enable
	if !high || enable < 0 {
		d.say("  There is no HIGH with an enable relay: nothing but this program stops the pump. Fill the reservoir to no more than the table holds.")
		return nil
	}
	return d.underTest(i, func() error { return d.highHolds(i, enable) })
}

func (d *dialogue) highHolds(i, enable int) error {
	for _, p := range d.switchesOf(i) {
		if p.where != d.Site.Benches[i].Name+".high" {
			continue
		}
		name := d.Site.Outputs[enable].Name
		if err := d.watch(p, p.move(safety.Wet)); err != nil {
			return err
		}
		d.say("  Keep it lifted. %s is commanded on for a moment.", name)
		err := d.heard(enable, fmt.Sprintf("With HIGH lifted: did %s stay open, no click and no lamp?", name),
			"wire HIGH in series with the coil of the enable relay: it has to drop without the program")
		if err != nil {
			return err
		}
		if err := d.watch(p, p.move(safety.Dry)); err != nil {
			return err
		}
		return d.heard(enable, fmt.Sprintf("With HIGH down: did %s click?", name), "look at the wire of HIGH to the coil of the enable relay")
	}
	return nil
}

// inPumpCircuit lists the outputs of pumps and enable relays, enable first.
func (d *dialogue) inPumpCircuit() (enables []int) {
	var pumps []int
	for i := range d.Site.Outputs {
		switch d.Site.GuardKind(i) {
		case safety.Other:
		case safety.Enable:
			enables = append(enables, i)
		default:
			pumps = append(pumps, i)
		}
	}
	return append(enables, pumps...)
}

// wires has the signal wire of each relay in a pump circuit taken away while the
// relay clicks.
func (d *dialogue) wires(int) error {
	if err := d.giveHandsIn(true); err != nil {
		return err
	}
	for _, i := range d.inPumpCircuit() {
		if err := d.wireOff(i); err != nil {
			return err
		}
	}
	return nil
}

func (d *dialogue) wireOff(output int) error {
	name := d.Site.Outputs[output].Name
	d.say("  %s clicks. Pull its signal wire from the relay, then put it back.", name)
	for _, a := range []Act{Pull, PutBack} {
		if err := d.byHand(a, name); err != nil {
			return err
		}
		if err := d.click(output); err != nil {
			return err
		}
	}
	answer, err := d.chooseBeside(func() error { return d.click(output) },
		fmt.Sprintf("Did %s fall silent at once without its wire, lamp off, and click again with it?", name), "yes", "no")
	if err == nil && answer == "no" {
		err = fmt.Errorf("%w: an open input of the relay has to mean off: pull it there, or use another relay board", ErrFailed)
	}
	return err
}

// residualCurrent has the device tried that keeps a fault of a wet pump from
// killing.
func (d *dialogue) residualCurrent(int) error {
	return d.confirm("Press the test button of the residual-current device. Did it trip, and were the sockets of the pumps dead? Switch it on again",
		"plug no pump in until an electrician has put a device there that trips")
}
