package commission

import (
	"context"
	"errors"
	"slices"
	"time"

	"benchtide/controller/quantity"
	"benchtide/safety"
)

// errLeftOut says that a step was not done because the person would not.
var errLeftOut = errors.New("left out")

// RunLeftOut does what an earlier commissioning of this wiring left out. A step
// may be left out again.
func RunLeftOut(ctx context.Context, o Options) error {
	return run(ctx, o, (*dialogue).doLeftOut)
}

func (d *dialogue) doLeftOut() error {
	entries, err := d.Record.Entries()
	if err != nil {
		return err
	}
	if err := d.begin(entries); err != nil {
		return err
	}
	w := wiringOf(d.Site, entries)
	all := slices.DeleteFunc(d.parts(), func(p part) bool {
		_, open := w.openSince(p)
		return !open
	})
	if len(all) == 0 {
		d.say("Nothing was left out.")
	}
	return d.takeEach(all)
}

// mayLeaveOut asks whether a step is to be done that may be left out; one that
// takes no time any more is done.
func (d *dialogue) mayLeaveOut(p part) error {
	if p.takes == nil || d.pending != nil && d.pending.Step == p.name {
		return nil
	}
	took := p.takes(d, max(p.index, 0)).Round(time.Minute)
	if took == 0 {
		return nil
	}
	answer, err := d.choose("It takes about "+quantity.Duration(took)+". Do it now?", "yes", "skip")
	if err == nil && answer == "skip" {
		err = errLeftOut
	}
	return err
}

func minutes(n int) func(*dialogue, int) time.Duration {
	return func(*dialogue, int) time.Duration { return time.Duration(n) * time.Minute }
}

// cycle is about how long a flood with this hold takes, the rest after it
// included.
func (d *dialogue) cycle(i int, hold time.Duration) time.Duration {
	l := d.limits(i)
	return l.Fill + hold + l.Drain + safety.RestMargin
}

func (d *dialogue) shortFlood(i int) time.Duration { return d.cycle(i, d.firstHold(i)) }

func (d *dialogue) longestFlood(i int) time.Duration {
	if d.stood(i) {
		return 0
	}
	return d.cycle(i, d.limits(i).MaxHold)
}

func (d *dialogue) threeFloods(i int) time.Duration {
	var all time.Duration
	for n := range calibrationFloods {
		all += d.cycle(i, min(d.timedHold(i, n), d.limits(i).MaxHold))
	}
	return all
}

// leaves is about how long all takes that may be left out.
func (d *dialogue) leaves() (all time.Duration) {
	for _, p := range d.parts() {
		if p.takes != nil {
			all += p.takes(d, max(p.index, 0))
		}
	}
	return all
}
