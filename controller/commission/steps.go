package commission

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// step is one part of a commissioning. It is on record once it has passed, and
// is not done again when a dialogue goes on.
type step struct {
	name  string
	title string
	bench bool // it is done for each bench
	wet   bool // with the pumps plugged in; else unplugged, under hands-in
	do    func(*dialogue, int) error
	takes func(*dialogue, int) time.Duration // about how long, of what may be left out; nil of what may not
}

var steps = []step{
	{name: "list", title: "the wiring list", do: (*dialogue).list},
	{name: "restart", title: "no relay stirs at a restart", takes: minutes(2), do: silent("restart", restarts)},
	{name: "restart-2", title: "no relay stirs at a second restart", takes: minutes(2), do: silent("restart-2", restarts)},
	{name: "restart-3", title: "no relay stirs at a third restart", takes: minutes(2), do: silent("restart-3", restarts)},
	{name: "kill", title: "no relay stirs as the program is killed", takes: minutes(1), do: silent("kill", killed)},
	{name: "outputs", title: "each relay clicks and drops", do: (*dialogue).outputs},
	{name: "power", title: "a relay drops as the power goes", takes: minutes(2), do: (*dialogue).powerDrops},
	{name: "button", title: "the hands-in button", do: (*dialogue).testButton},
	{name: "wires", title: "a relay drops without its signal wire", takes: minutes(2), do: (*dialogue).wires},
	{name: "switches", title: "each switch", bench: true, do: (*dialogue).switches},
	{name: "high", title: "HIGH drops the enable relay", bench: true, do: (*dialogue).highDrops},
	{name: "rcd", title: "the residual-current device", wet: true, takes: minutes(1), do: (*dialogue).residualCurrent},
	{name: "wet", title: "a first flood, key held down", bench: true, wet: true, do: (*dialogue).wetRun},
	{name: "calibrate", title: "three timed floods", bench: true, wet: true, takes: (*dialogue).threeFloods, do: (*dialogue).calibrate},
	{name: "endurance", title: "the overflow stands the longest hold", bench: true, wet: true, takes: (*dialogue).longestFlood, do: (*dialogue).endurance},
	{name: "full-early", title: "rehearsal: FULL lifted too early", bench: true, wet: true, takes: fullEarly.takes, do: rehearsal(fullEarly)},
	{name: "full-late", title: "rehearsal: FULL held down", bench: true, wet: true, takes: fullLate.takes, do: rehearsal(fullLate)},
	{name: "high-lifted", title: "rehearsal: HIGH lifted with the pump on", bench: true, wet: true, takes: highLifted.takes, do: rehearsal(highLifted)},
	{name: "pump-unplugged", title: "rehearsal: the pump unplugged in mid-flood", bench: true, wet: true, takes: pumpUnplugged.takes, do: rehearsal(pumpUnplugged)},
	{name: "power-cut", title: "rehearsal: the power cut in mid-flood", wet: true, takes: (*dialogue).shortFlood, do: (*dialogue).powerCut},
	{name: "clock", title: "rehearsal: a wrong clock", wet: true, takes: minutes(5), do: (*dialogue).wrongClock},
	{name: "network", title: "rehearsal: a flood without the network", wet: true, takes: (*dialogue).shortFlood, do: (*dialogue).withoutNetwork},
	{name: "summary", title: "summary", wet: true, do: (*dialogue).summary},
}

// part is a step, of one bench where it has one.
type part struct {
	step
	index int // of the bench
	place string
}

func (d *dialogue) parts() []part { return partsOf(d.Site) }

func partsOf(site *config.Site) (all []part) {
	for _, s := range steps {
		if !s.bench {
			all = append(all, part{s, -1, ""})
			continue
		}
		for i, b := range site.Benches {
			all = append(all, part{s, i, b.Name})
		}
	}
	return all
}

// Run holds the whole commissioning of a site, or goes on with one that was
// stopped. It ends with everything off. ErrStopped says that it can go on
// later, ErrFailed that something is not as the file says, and what to do.
func Run(ctx context.Context, o Options) error {
	return run(ctx, o, (*dialogue).commission)
}

// run holds a dialogue. At a simulated board it goes on by itself after a step
// in which the program has to end.
func run(ctx context.Context, o Options, talk func(*dialogue) error) error {
	for {
		d := &dialogue{Options: o, site: o.Site}
		err := d.hold(ctx, d.finally(func() error { return talk(d) }))
		if d.lost == "" {
			return err
		}
		if o.Boot, err = o.Hands.Return(d.lost); err != nil {
			return err
		}
		o.Checkpoint = d.stored
		_ = o.Ledger.Acknowledged() // of the program that ended
	}
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
	if err := d.begin(entries); err != nil {
		return err
	}
	done := d.passed(entries)
	if len(done) == 0 {
		if err := d.add(begun, "", nil); err != nil {
			return err
		}
		d.say("The parts that may be left for another day take about %s; the rest about half an hour.", quantity.Duration(d.leaves().Round(5*time.Minute)))
	} else {
		d.say("%d of %d steps are done already.", len(done), len(d.parts()))
	}
	return d.takeEach(slices.DeleteFunc(d.parts(), func(p part) bool { return done[p.key()] }))
}

func (d *dialogue) takeEach(some []part) error {
	all := d.parts()
	for _, p := range some {
		n := slices.IndexFunc(all, func(q part) bool { return q.key() == p.key() })
		d.say("\nStep %d of %d: %s%s", n+1, len(all), p.title, on(p.place, d.Site.Titles))
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

func on(place string, titles texts.Titles) string {
	if place == "" {
		return ""
	}
	return ", " + titles.Bench(place)
}

func (p part) key() string { return p.name + " " + p.place }

// keyOf is the key of the part that an entry is about.
func keyOf(e Entry) string { return stepOf(e) + " " + e.Place }

// begin takes up what was measured before, and what the last program ended for.
func (d *dialogue) begin(entries []Entry) error {
	st, err := Judge(d.Site, entries, d.Clock.Now())
	if err != nil {
		return err
	}
	if d.site, err = d.Site.WithCalibration(st.Cycles); err != nil {
		return err
	}
	if d.pending = pendingOf(entries, d.Site.Fingerprint()); d.pending != nil {
		at := slices.IndexFunc(steps, func(s step) bool { return s.name == d.pending.Step })
		d.dry, d.wet = at >= 0 && !steps[at].wet, at >= 0 && steps[at].wet // as they were
	}
	if d.pending == nil || d.pending.Step != "clock" {
		if err := d.dated(); err != nil {
			return err
		}
	}
	d.say("%s, board %s. Answer stop at any question: everything goes off, and the next time it goes on here.", d.Site.Name, d.Site.Board)
	return nil
}

// passed are the steps of the commissioning under way that are on record for
// the present wiring, and those that were left out.
func (d *dialogue) passed(entries []Entry) map[string]bool {
	done := map[string]bool{}
	for _, e := range entries {
		switch {
		case e.What == begun || e.What == commissioned:
			clear(done)
		case (e.What == passed || e.What == leftOut) && e.Fingerprint == d.Site.Fingerprint():
			done[keyOf(e)] = true
		}
	}
	return done
}

// take does one step, and puts on record how it went.
func (d *dialogue) take(p part) error {
	d.answers = nil
	err := d.mayLeaveOut(p)
	if err == nil {
		err = d.prepare(p)
	}
	if err == nil {
		err = p.do(d, p.index)
	}
	data := stepData{Step: p.name, Answers: d.answers}
	switch {
	case errors.Is(err, errLeftOut):
		d.say("  Left out: it stands as not done.")
		return d.add(leftOut, p.place, data)
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
	}
	if p.wet {
		return d.giveHandsIn(false)
	}
	return nil
}

func (d *dialogue) plugIn() error {
	var fill []string
	for _, r := range d.Site.Reservoirs {
		fill = append(fill, fmt.Sprintf("%s to %s", d.Site.Titles.Reservoir(r.Name), d.Site.Units.Volume(r.Usable)))
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
	return d.confirm("Does the wiring match, line by line?", "put the file or the wiring right")
}

func (d *dialogue) listSwitch(p sensor) {
	does := "opens"
	if p.Closes {
		does = "closes"
	}
	height := ""
	if p.At > 0 {
		height = ", at " + d.Site.Units.Mark(p.At)
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
