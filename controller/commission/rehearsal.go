package commission

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// fault is one that a person brings about in mid-flood, and what has to stop
// the pump then.
type fault struct {
	act, undo Act
	where     string // a switch of the bench; empty for its pump
	ask, free string // of the name of the bench
	stops     safety.Interlock
	within    func(*safety.BenchLimits) time.Duration // from the start of the pump
	seen      string                                  // what only the person can tell; empty for nothing
}

var (
	fullEarly = fault{
		act: Wet, undo: Dry, where: "full", ask: "Lift the float of FULL of %s at once, before half the fill is over, and keep it up", free: "Let the float of FULL of %s go",
		stops: safety.FillWindow, within: fillsFrom,
	}
	fullLate = fault{
		act: HoldDown, undo: Free, where: "full", ask: "Hold the float of FULL of %s down, though the water comes", free: "Let the float of FULL of %s go",
		stops: safety.FillWindow, within: fillsBy,
	}
	highLifted = fault{
		act: Wet, undo: Dry, where: "high", ask: "Lift the float of HIGH of %s now, and keep it up", free: "Let the float of HIGH of %s go",
		stops: safety.HighLevel, within: func(l *safety.BenchLimits) time.Duration { return l.Fill },
		seen: "Did the pump stop at once?",
	}
	pumpUnplugged = fault{
		act: Unplug, undo: PlugIn, ask: "Unplug the pump of %s now", free: "Plug the pump of %s in again",
		stops: safety.FillWindow, within: fillsBy,
	}
)

func fillsFrom(l *safety.BenchLimits) time.Duration {
	from, _ := l.FillWindow()
	return from
}

func fillsBy(l *safety.BenchLimits) time.Duration {
	_, by := l.FillWindow()
	return by
}

// takes is about how long the rehearsal lasts, the rest after it included.
func (f fault) takes(d *dialogue, i int) time.Duration {
	l := d.limits(i)
	return f.within(l) + l.Drain + safety.RestMargin
}

// lacks says what bench i lacks for the fault to be noticed; empty for nothing.
func (f *fault) lacks(b *config.Bench) string {
	switch {
	case f.where == "high" && b.High == nil:
		return "There is no HIGH."
	case f.where != "high" && b.Full == nil:
		return "There is no FULL: nothing notices this."
	}
	return ""
}

// margin is how long after its time an interlock is waited for.
const margin = 15 * time.Second

// rehearsal is the step in which a person brings a fault about.
func rehearsal(f fault) func(*dialogue, int) error {
	return func(d *dialogue, i int) error {
		if lacks := f.lacks(&d.Site.Benches[i]); lacks != "" {
			d.say("  %s", lacks)
			return nil
		}
		for {
			acted, err := d.bringAbout(&f, i)
			if err != nil {
				return err
			}
			if acted {
				break
			}
			if err := d.again(fmt.Sprintf("%s did not stop the pump", f.stops), "find out why before anything floods"); err != nil {
				return err
			}
		}
		if f.seen == "" {
			return nil
		}
		return d.confirm(f.seen, "look at HIGH, its wire to the coil of the enable relay, and that relay")
	}
}

// bringAbout floods bench i with a fault, and reports whether the interlock that
// it is for has stopped the pump.
func (d *dialogue) bringAbout(f *fault, i int) (acted bool, err error) {
	name := d.Site.Benches[i].Name
	if err := d.ready(i); err != nil {
		return false, err
	}
	_, err = d.flood(i, d.firstHold(i), func() error {
		if err := d.started(i); err != nil {
			return err
		}
		d.say("  %s.", fmt.Sprintf(f.ask, d.bench(i)))
		if err := d.byHand(f.act, f.target(name)); err != nil {
			return err
		}
		if acted, err = d.stopsBy(f, i); err != nil {
			return err
		}
		return d.undo(f, i)
	})
	if err == nil && len(d.status.Benches[i].Latched) > 0 {
		err = d.release(i)
	}
	return acted, err
}

func (f *fault) target(bench string) string {
	if f.where == "" {
		return bench
	}
	return bench + "." + f.where
}

// stopsBy waits for the interlock, and stops the pump when it does not act.
func (d *dialogue) stopsBy(f *fault, i int) (bool, error) {
	err := d.until(f.within(d.limits(i))+margin, func() bool { return !d.running(i) })
	if errors.Is(err, errLate) {
		return false, d.act(func(c loop.Core) error { return c.Controller.StopFlood(c.Now, i) })
	}
	acted := slices.Contains(d.trips, f.stops)
	if err == nil && acted {
		d.say("  As it has to be: the pump was stopped (%s).", controller.Phrase(d.Site.Titles, f.stops, "", ""))
	}
	return acted, err
}

// undo has a fault undone. A float that is let go is waited for; one that was
// held down may stand in water.
func (d *dialogue) undo(f *fault, i int) error {
	name := d.Site.Benches[i].Name
	if f.where != "" && f.undo == Dry {
		at := slices.IndexFunc(d.switchesOf(i), func(p sensor) bool { return p.where == f.target(name) })
		p := d.switchesOf(i)[at]
		return d.watch(p, motion{Dry, fmt.Sprintf(f.free, d.bench(i)), safety.Dry, "down"})
	}
	d.say("  %s.", fmt.Sprintf(f.free, d.bench(i)))
	if err := d.byHand(f.undo, f.target(name)); err != nil || f.where != "" {
		return err
	}
	_, err := d.choose("Is it plugged in?", "yes")
	return err
}

// release resets what a rehearsal has latched.
func (d *dialogue) release(i int) error {
	err := d.loop.Act(func(c loop.Core) error {
		return c.Guard.Reset(c.Now, i, "a fault that was brought about by hand, in a rehearsal")
	})
	if err != nil {
		return d.unlatch(i) // something else stands in the way
	}
	return d.turn()
}

// started waits until the pump of bench i runs.
func (d *dialogue) started(i int) error {
	return d.until(forever, func() bool { return d.status.Benches[i].Phase != controller.Recording })
}

// withoutNetwork floods with the network unplugged. It is the last flood: where
// the rehearsals left a failed fill behind, it shows that the bench is whole.
func (d *dialogue) withoutNetwork(int) error {
	const i = 0
	unplugged, err := d.choose("Unplug the network: its cable, or the wireless. Leave it plugged if you are connected over it. Is it unplugged?", "yes", "no")
	if err != nil {
		return err
	}
	for {
		if err := d.ready(i); err != nil {
			return err
		}
		f, err := d.flood(i, d.firstHold(i), func() error { return nil })
		if err != nil {
			return err
		}
		if d.succeeded(i, f) {
			break
		}
		if err := d.again("That flood is not proven", "find out why, then start again"); err != nil {
			return err
		}
	}
	if unplugged == "no" {
		return errLeftOut
	}
	return d.confirm("Plug the network in again. Is it plugged in?", "plug it in: without it nobody is told of anything")
}
