package commission

import (
	"errors"
	"fmt"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/safety"
)

// readyWithin is how long the bench may take to be ready for a flood: the rest
// after the last, or a person who tops up.
const readyWithin = 2 * time.Hour

// startWithin is how long a flood that the guard would let start may take to
// begin: it goes before those of the schedule.
const startWithin = time.Minute

// ready waits until the guard would let bench i flood.
func (d *dialogue) ready(i int) error {
	told := safety.Interlock("")
	s := &d.status.Benches[i]
	for {
		err := d.until(readyWithin, func() bool {
			if s.Start.Refused() && s.Start.Interlock != told {
				told = s.Start.Interlock
				d.say("  Waiting: %s.", s.Start.Detail)
			}
			return s.Phase == controller.Rest && !s.Start.Refused() || len(s.Latched) > 0 || d.spent(i)
		})
		if err == nil && d.spent(i) {
			again := d.Clock.Now().Wall.Add(s.Start.Until - d.now()).In(d.Site.Zone)
			d.say("  It is granted anew from %s on. Start this command again then, and it goes on here; or now, and leave this out.", again.Format("2 January 15:04"))
			return ErrStopped
		}
		if errors.Is(err, errLate) {
			return fmt.Errorf("%w: %s may not flood: %s", ErrFailed, d.bench(i), s.Start.Detail)
		}
		if err != nil || len(s.Latched) == 0 {
			return err
		}
		if err := d.unlatch(i); err != nil {
			return err
		}
	}
}

// spent reports whether the guard grants bench i no more pump time or starts
// today, which no check has to do with.
func (d *dialogue) spent(i int) bool {
	r := &d.status.Benches[i].Start
	return r.Refused() && (r.Interlock == safety.DailyRun || r.Interlock == safety.Starts) && r.Until-d.now() > readyWithin/2
}

// unlatch has a person find the cause of a latched trip, and resets it.
func (d *dialogue) unlatch(i int) error {
	for {
		trip := d.status.Benches[i].Latched[0]
		found, err := d.ask("%s is locked until reset: %s. Put it right. What was found?", d.bench(i), controller.Phrase(d.Site.Titles, trip.Interlock, trip.Detail, d.Site.Benches[i].Name))
		if err != nil {
			return err
		}
		err = d.loop.Act(func(c loop.Core) error { return c.Guard.Reset(c.Now, i, found) })
		if err == nil {
			return d.turn()
		}
		d.say("  %v.", err)
	}
}

// flood asks for a flood of bench i by hand and waits for its outcome; during
// goes on beside it, until the pump has stopped at the latest.
func (d *dialogue) flood(i int, hold time.Duration, during func() error) (controller.Flood, error) {
	d.trips = d.trips[:0]
	if most := d.limits(i).MaxHold; most > 0 {
		hold = min(hold, most)
	}
	if err := d.act(func(c loop.Core) error { return c.Controller.Flood(c.Now, i, hold) }); err != nil {
		return controller.Flood{}, err
	}
	s := &d.status.Benches[i]
	switch err := d.until(startWithin, func() bool { return s.Phase != controller.Rest }); {
	case errors.Is(err, errLate):
		return controller.Flood{}, fmt.Errorf("%w: the flood of %s did not start: %s", ErrFailed, d.bench(i), s.Start.Detail)
	case err != nil:
		return controller.Flood{}, err
	}
	id := s.Flood.ID
	if err := during(); err != nil {
		return controller.Flood{}, err
	}
	if err := d.outcome(i, id); err != nil {
		return controller.Flood{}, err
	}
	f := s.Last
	d.say("  The flood %s.", controller.Ends(d.Site.Titles, f.Outcome, f.Reason, d.Site.Benches[i].Name))
	return f, nil
}

// outcome waits until a flood of bench i has its outcome. The retry of a failed
// one is called off: nobody holds the key.
func (d *dialogue) outcome(i int, id int64) error {
	s := &d.status.Benches[i]
	retried := func() bool { return s.Phase == controller.Recording && s.Flood.Attempt > 0 }
	over := func() bool { return s.Phase == controller.Rest && s.Last.ID == id }
	if err := d.until(readyWithin, func() bool { return over() || retried() }); err != nil || over() {
		return err
	}
	if err := d.act(func(c loop.Core) error { return c.Controller.StopFlood(c.Now, i) }); err != nil {
		return err
	}
	return d.until(readyWithin, over)
}

// succeeded reports whether a flood of bench i shows what a check is after: on
// a bench that cannot prove any, that nothing ended it early.
func (d *dialogue) succeeded(i int, f controller.Flood) bool {
	return f.Outcome == controller.Proven || !d.hasFull(i) && f.Outcome != controller.Interrupted
}

// running reports whether the pump of bench i runs or is about to.
func (d *dialogue) running(i int) bool {
	s := &d.status.Benches[i]
	return s.Phase == controller.Recording || s.Phase == controller.Filling || s.Phase == controller.Holding
}

// full waits for FULL and says how long it took; false when the run ended before.
func (d *dialogue) full(i int) (bool, error) {
	err := d.until(forever, func() bool { return !d.running(i) || d.status.Benches[i].Phase == controller.Holding })
	made := err == nil && d.status.Benches[i].Phase == controller.Holding
	if made && d.status.Benches[i].Flood.Fill > 0 {
		d.say("  FULL after %s.", quantity.Duration(d.status.Benches[i].Flood.Fill))
	}
	return made, err
}
