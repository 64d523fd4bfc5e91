package commission

import (
	"errors"
	"slices"
	"time"

	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/safety"
)

const (
	shortHold   = time.Minute      // how long a flood stands of which only the fill is of interest
	pressWithin = 10 * time.Minute // how long a person may take to press the key
	holdDown    = "Hold Enter down; let it go and the pump stops."
)

// wetRun floods for the first time: the pump runs for as long as a key is held
// down, and no longer than the limits allow.
func (d *dialogue) wetRun(i int) error {
	d.say("  Watch hose ends, clamps and standpipe.")
	for {
		if err := d.ready(i); err != nil {
			return err
		}
		if err := d.pressed(); err != nil {
			return err
		}
		f, err := d.flood(i, d.firstHold(i), func() error { return d.whileHeld(i) })
		if err != nil {
			return err
		}
		if d.succeeded(i, f) {
			return d.confirm("Did the pump turn the right way, and the water go where it has to, and nowhere else?", "mend the pump, hose, clamps, table or standpipe")
		}
		if err := d.unfilled(i); err != nil {
			return err
		}
	}
}

// firstHold is short, and no longer than the limits allow.
func (d *dialogue) firstHold(i int) time.Duration {
	if most := d.limits(i).MaxHold; most > 0 {
		return min(shortHold, most)
	}
	return shortHold
}

func (d *dialogue) hasFull(i int) bool { return d.Site.Benches[i].Full != nil }

// pressed waits until the key is held down.
func (d *dialogue) pressed() error {
	d.Person.Ask(holdDown)
	var failed error
	err := d.look(personEvery, pressWithin, func() (held bool) {
		held, failed = d.Person.Hold(d.now())
		return held || failed != nil
	})
	if errors.Is(err, errLate) {
		return ErrStopped
	}
	return errors.Join(err, failed)
}

// whileHeld stops the flood when the key is let go.
func (d *dialogue) whileHeld(i int) error {
	began, held, failed := d.now(), true, error(nil)
	err := d.look(personEvery, forever, func() bool {
		held, failed = d.Person.Hold(d.now())
		return !held || failed != nil || !d.running(i)
	})
	d.note(holdDown, "held", d.now()-began)
	if err = errors.Join(err, failed); err != nil || !d.running(i) {
		return err
	}
	return d.act(func(c loop.Core) error { return c.Controller.StopFlood(c.Now, i) })
}

// unfilled goes on after a first flood that was not proven. The file's T_fill
// may be too far from the truth for its own window: then the person gives a
// better one, and the loop begins again with the limits that follow from it.
func (d *dialogue) unfilled(i int) error {
	if !slices.Contains(d.trips, safety.FillWindow) {
		return d.again("The first flood is not proven", "find out why, then start again")
	}
	for {
		text, err := d.ask("The limits take T_fill to be %s. About how long does a fill take, as far as you saw? A time such as 6 min",
			quantity.Duration(d.limits(i).Fill))
		if err != nil {
			return err
		}
		fill, err := quantity.ParseDuration(text)
		if err == nil {
			err = d.refill(i, fill)
		}
		if err == nil {
			return d.startAgain()
		}
		d.say("  %v.", err)
	}
}

// refill takes a provisional T_fill for bench i.
func (d *dialogue) refill(i int, fill time.Duration) error {
	site, err := d.site.WithCalibration(map[string]sheet.Cycle{d.Site.Benches[i].Name: {Fill: fill}})
	if err == nil {
		d.site = site
	}
	return err
}
