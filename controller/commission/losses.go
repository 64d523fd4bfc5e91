package commission

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// loss is a way in which the program or its machine ends in the middle of a
// step. The dialogue goes on when the program is started again: what was
// awaited is on record by then.
type loss struct {
	act      Act
	ask      string // what the person does
	sudden   bool   // the program does not come to stop in an orderly way
	sameBoot bool   // the machine goes on
	not      string // what to say when something else has happened
}

const startAgain = "then start this command again"

var (
	restarts = loss{
		act: Restart, ask: "Restart the computer with your eyes on the relays, " + startAgain, not: "The computer has not restarted since.",
	}
	killed = loss{
		act: Kill, ask: "Kill this program from another terminal (kill -9, not with Ctrl-C) with your eyes on the relays, " + startAgain,
		sudden: true, sameBoot: true, not: "The program was not killed.",
	}
	unpowered = loss{
		act: CutPower, ask: "Pull the plug of the controller, put it back after ten seconds, " + startAgain,
		sudden: true, not: "The power of the controller was not cut.",
	}
	misdated = loss{
		act: SetWrong, ask: "Unplug the network, set the clock a year back (timedatectl set-ntp false, then timedatectl set-time) and restart the computer, " + startAgain,
		not: "The computer has not restarted since.",
	}
)

// awaitedData says what the program was about to be ended for.
type awaitedData struct {
	Step  string `json:"step"`
	Boot  string `json:"boot"`
	Flood int64  `json:"flood,omitempty"` // under way then
}

// pendingOf is what the entries leave awaited on a wiring; nil for nothing.
func pendingOf(entries []Entry, fingerprint string) (p *awaitedData) {
	for _, e := range entries {
		switch {
		case e.Fingerprint != fingerprint:
		case e.What == awaited:
			var a awaitedData
			if p = nil; json.Unmarshal(e.Data, &a) == nil {
				p = &a
			}
		case e.What == timed, e.What == discarded, e.What == calibrated:
		default:
			p = nil
		}
	}
	return p
}

// survive has the program or its machine end in a step, and returns in the
// program that comes after. beside goes on meanwhile.
func (d *dialogue) survive(step string, l *loss, flood int64, beside func() error) error {
	if _, ok := d.came(step, l); ok {
		return nil
	}
	if err := d.add(awaited, "", awaitedData{step, d.Boot, flood}); err != nil {
		return err
	}
	d.say("  %s.", l.ask)
	err := d.end(l, beside)
	if l.sudden && d.lost == "" { // the program was stopped in peace, which shows nothing
		err = errors.Join(err, d.add(calledOff, "", awaitedData{Step: step}))
	}
	return err
}

// end waits for the end of the program, which hands at a simulated bench bring
// about. It returns an error at any rate.
func (d *dialogue) end(l *loss, beside func() error) error {
	if d.Hands == nil {
		for {
			if _, err := d.askBeside(beside, "Waiting for that; answer stop to end in peace"); err != nil {
				return err
			}
		}
	}
	if beside != nil {
		if err := beside(); err != nil {
			return err
		}
	}
	if err := d.Hands.Do(l.act, ""); err != nil {
		return err
	}
	d.lost = l.act
	_ = d.turn() // the last: nothing is heard of this program any more
	return ErrStopped
}

// came takes up what was awaited in a step, when the program has ended for that.
func (d *dialogue) came(step string, l *loss) (awaitedData, bool) {
	p := d.pending
	if p == nil || p.Step != step {
		return awaitedData{}, false
	}
	d.pending = nil
	if known := p.Boot != "" && d.Boot != ""; known && (p.Boot == d.Boot) != l.sameBoot {
		d.say("  %s", l.not)
		return awaitedData{}, false
	}
	return *p, true
}

// silent is the step in which every relay has to stay off as the program ends.
func silent(step string, l loss) func(*dialogue, int) error {
	return func(d *dialogue, _ int) error {
		if err := d.survive(step, &l, 0, nil); err != nil {
			return err
		}
		d.sayContacts()
		return d.confirm("Did every relay stay silent, its lamp off, all the while?",
			"a relay that closes by itself belongs on a line that is pulled the other way, or wants the other polarity")
	}
}

func (d *dialogue) sayContacts() {
	if d.Hands == nil {
		return
	}
	for i, o := range d.Site.Outputs {
		if d.Hands.Closed(i) {
			d.say("    the simulated contact of %s is closed", o.Name)
			return
		}
	}
	d.say("    every simulated contact is open")
}

// powerDrops has the power go while a relay clicks.
func (d *dialogue) powerDrops(int) error {
	if err := d.giveHandsIn(true); err != nil {
		return err
	}
	out := d.inPumpCircuit()[0]
	name := d.Site.Outputs[out].Name
	if d.pending == nil {
		d.say("  %s clicks until the power goes.", name)
	}
	if err := d.survive("power", &unpowered, 0, func() error { return d.pulse(out) }); err != nil {
		return err
	}
	d.sayContacts()
	return d.confirm(fmt.Sprintf("Did %s drop as the power went, and every relay stay silent as it came back?", name),
		"use a relay that lets go without power, on a line that is pulled to off")
}

// pulse energises a relay, and leaves it so for as long as a click may last.
func (d *dialogue) pulse(output int) error {
	if err := d.act(func(c loop.Core) error { return c.Guard.Click(c.Now, output, false) }); err != nil {
		return err
	}
	if err := d.pass(safety.EnableLag); err != nil {
		return err
	}
	return d.act(func(c loop.Core) error { return c.Guard.Click(c.Now, output, true) })
}

// powerCut has the power go while water is on its way.
func (d *dialogue) powerCut(int) error {
	const i = 0 // one bench shows it for all
	p, back := d.came("power-cut", &unpowered)
	if !back {
		return d.cutInMidFlood(i)
	}
	at := slices.IndexFunc(d.last, func(f controller.Flood) bool { return f.ID == p.Flood && f.Outcome == controller.Interrupted })
	if at < 0 {
		if err := d.again("The record does not say that the flood was interrupted",
			"see that nothing but this program takes the record up, and look at the card that it is kept on"); err != nil {
			return err
		}
		return d.cutInMidFlood(i)
	}
	d.say("  By the record the flood %s.", controller.Ends(d.Site.Titles, d.last[at].Outcome, d.last[at].Reason, ""))
	return d.confirm("Did the pump stop as the power went, and stay off as it came back?", "look at the pulls of the lines and at the relays")
}

// cutInMidFlood floods until the power goes: while the pump runs, or the water
// is on its way home.
func (d *dialogue) cutInMidFlood(i int) error {
	for {
		if err := d.ready(i); err != nil {
			return err
		}
		_, err := d.flood(i, d.firstHold(i), func() error {
			if err := d.started(i); err != nil {
				return err
			}
			return d.survive("power-cut", &unpowered, d.status.Benches[i].Flood.ID, nil)
		})
		if err != nil {
			return err
		}
	}
}

// wrongClock has the machine start with a clock that is wrong: it must not be
// believed. The step ends when the clock is right again, since what is on
// record is dated by it.
func (d *dialogue) wrongClock(int) error {
	if err := d.survive("clock", &misdated, 0, nil); err != nil {
		return err
	}
	now := d.Clock.Now()
	shows := "The clock shows " + now.Wall.In(d.Site.Zone).Format("2 January 2006 15:04")
	if now.Trusted {
		if err := d.confirm(shows+" and is believed. Is that right?",
			"a clock that is wrong must not be believed: look at what sets it, and at the battery of the clock chip"); err != nil {
			return err
		}
	} else {
		d.say("  %s and is not believed: floods would follow elapsed time, not the calendar.", shows)
	}
	d.say("  Plug the network in and set the clock right (timedatectl set-ntp true).")
	if err := d.byHand(SetRight, ""); err != nil {
		return err
	}
	err := d.until(clockWithin, func() bool { return d.Clock.Now().Trusted })
	if err != nil && !errors.Is(err, errLate) {
		return err
	}
	return d.dated()
}

// clockWithin is how long the network may take to set the clock.
const clockWithin = 2 * time.Minute
