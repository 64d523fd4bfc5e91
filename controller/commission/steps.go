package commission

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"benchtide/controller/loop"
	"benchtide/controller/quantity"
)

// step is one part of a commissioning. It is on record once it has passed, and
// is not done again when a dialogue goes on.
type step struct {
	name  string
	title string
	bench bool // it is done for each bench
	wet   bool // with the pumps plugged in; else unplugged, under hands-in
	do    func(*dialogue, int) error
}

var steps = []step{
	{name: "list", title: "the wiring list", do: (*dialogue).list},
	{name: "button", title: "the hands-in button", do: (*dialogue).testButton},
	{name: "outputs", title: "each relay clicks and drops", do: (*dialogue).outputs},
	{name: "switches", title: "each switch", bench: true, do: (*dialogue).switches},
	{name: "high", title: "HIGH drops the enable relay", bench: true, do: (*dialogue).highDrops},
	{name: "wet", title: "a first flood, key held down", bench: true, wet: true, do: (*dialogue).wetRun},
	{name: "calibrate", title: "three timed floods", bench: true, wet: true, do: (*dialogue).calibrate},
	{name: "endurance", title: "the overflow stands the longest hold", bench: true, wet: true, do: (*dialogue).endurance},
	{name: "summary", title: "summary", wet: true, do: (*dialogue).summary},
}

// part is a step, of one bench where it has one.
type part struct {
	step
	index int // of the bench
	place string
}

func (d *dialogue) parts() (all []part) {
	for _, s := range steps {
		if !s.bench {
			all = append(all, part{s, -1, ""})
			continue
		}
		for i, b := range d.Site.Benches {
			all = append(all, part{s, i, b.Name})
		}
	}
	return all
}

// Run holds the whole commissioning of a site, or goes on with one that was
// stopped. It ends with everything off. ErrStopped says that it can go on
// later, ErrFailed that something is not as the file says, and what to do.
func Run(ctx context.Context, o Options) error {
	d := &dialogue{Options: o, site: o.Site}
	return d.hold(ctx, d.finally(d.commission))
}

// finally ends hands-in, if the dialogue gave it, when the talk is over.
func (d *dialogue) finally(talk func() error) func() error {
	return func() error {
		defer func() {
			if d.handsIn {
				_ = d.loop.Act(func(c loop.Core) error {
					c.Guard.SetHandsIn(c.Now, false)
					return nil
				})
			}
		}()
		return talk()
	}
}

func (d *dialogue) commission() error {
	entries, err := d.Record.Entries()
	if err != nil {
		return err
	}
	if err := d.dated(); err != nil {
		return err
	}
	if err := d.begin(entries); err != nil {
		return err
	}
	all := d.parts()
	done := d.passed(entries)
	for n, p := range all {
		if done[p.key()] {
			continue
		}
		d.say("\nStep %d of %d: %s%s", n+1, len(all), p.title, on(p.place))
		if err := d.take(p); err != nil {
			return err
		}
	}
	return nil
}

// dated sees to it that what goes on record bears the right date: commissioning
// and proof tests count from it.
func (d *dialogue) dated() error {
	now := d.Clock.Now()
	if now.Trusted {
		return nil
	}
	return d.confirm("The clock is not set by anything that can be trusted. It shows "+now.Wall.In(d.Site.Zone).Format("2 January 2006 15:04")+". Is that right?",
		"set the clock, then start again: commissioning and proof tests count from their date")
}

func on(place string) string {
	if place == "" {
		return ""
	}
	return ", " + place
}

func (p part) key() string { return p.name + " " + p.place }

// begin says where the dialogue goes on, with what was measured before.
func (d *dialogue) begin(entries []Entry) error {
	st, err := Judge(d.Site, entries, d.Clock.Now())
	if err != nil {
		return err
	}
	if d.site, err = d.Site.WithCalibration(st.Cycles); err != nil {
		return err
	}
	d.say("%s, board %s. Answer stop at any question: everything goes off, and the next time it goes on here.", d.Site.Name, d.Site.Board)
	done := d.passed(entries)
	if len(done) == 0 {
		return d.add(begun, "", nil)
	}
	d.say("%d of %d steps have passed already.", len(done), len(d.parts()))
	return nil
}

// passed are the steps of the commissioning under way that are on record for
// the present wiring.
func (d *dialogue) passed(entries []Entry) map[string]bool {
	done := map[string]bool{}
	for _, e := range entries {
		switch {
		case e.What == begun || e.What == commissioned:
			clear(done)
		case e.What == passed && e.Fingerprint == d.Site.Fingerprint():
			done[stepOf(e)+" "+e.Place] = true
		}
	}
	return done
}

// take does one step, and puts on record how it went.
func (d *dialogue) take(p part) error {
	d.answers = nil
	if err := d.prepare(p); err != nil {
		return err
	}
	err := p.do(d, p.index)
	data := stepData{Step: p.name, Answers: d.answers}
	switch {
	case errors.Is(err, ErrFailed):
		data.Failure = err.Error()
		return errors.Join(err, d.add(failed, p.place, data))
	case err != nil:
		return err
	case p.name == "summary":
		return d.add(commissioned, "", data)
	}
	return d.add(passed, p.place, data)
}

// prepare has the pumps unplugged, or plugged in, once in a dialogue.
func (d *dialogue) prepare(p part) error {
	switch {
	case p.name == "list" || p.name == "summary":
		return nil
	case !p.wet && !d.dry:
		d.dry = true
		return d.confirm("Unplug every pump from its socket. Is each one unplugged?", "unplug the pumps first: a relay that clicks would run them")
	case p.wet && !d.wet:
		d.wet = true
		if err := d.plugIn(); err != nil {
			return err
		}
		return d.giveHandsIn(false)
	}
	return nil
}

func (d *dialogue) plugIn() error {
	var fill []string
	for _, r := range d.Site.Reservoirs {
		fill = append(fill, fmt.Sprintf("%s to %s", r.Name, quantity.In(r.Usable, quantity.Litre)))
	}
	return d.confirm("Fill "+strings.Join(fill, ", ")+", see that the tables are bare, stay beside the bench and plug the pumps in. Ready?",
		"fill the reservoirs and plug the pumps in, then start again")
}

// list shows what the file says of the wiring. Nothing is energised.
func (d *dialogue) list(int) error {
	for _, o := range d.Site.Outputs {
		level, behind := "low", ""
		if o.EnergiseHigh {
			level = "high"
		}
		if o.Enable >= 0 {
			behind = ", behind " + d.Site.Outputs[o.Enable].Name
		}
		d.say("  %-12s %-8s %s, energised by %s%s", o.Name, o.Line, o.Kind, level, behind)
	}
	for i := range d.Site.Benches {
		for _, p := range d.switchesOf(i) {
			d.listSwitch(p)
		}
	}
	for _, p := range d.button() {
		d.listSwitch(p)
	}
	if err := d.confirm("Does the wiring match, line by line?", "put the file or the wiring right"); err != nil {
		return err
	}
	return d.confirm("Did every relay stay silent when the computer was powered on and started?",
		"a relay that closes at power-on belongs on a line that is pulled the other way, or wants the other polarity")
}

func (d *dialogue) listSwitch(p place) {
	does := "opens"
	if p.Closes {
		does = "closes"
	}
	height := ""
	if p.At > 0 {
		height = ", at " + quantity.In(p.At, quantity.Millimetre)
	}
	d.say("  %-12s %-8s water %s it, pull %s%s", p.where, p.Line, does, p.Pull, height)
}

func (d *dialogue) testButton(int) error {
	buttons := d.button()
	if len(buttons) == 0 {
		d.say("  None is fitted.")
	}
	if err := d.giveHandsIn(false); err != nil { // under which the button shows nothing
		return err
	}
	for _, p := range buttons {
		if err := d.test(p, p.whole()); err != nil {
			return err
		}
	}
	return nil
}
