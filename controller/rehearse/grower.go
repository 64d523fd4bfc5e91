package rehearse

import (
	"math"
	"time"

	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

const (
	refillAt     = 7 * time.Hour
	refillRetry  = 10 * time.Minute // a table of the reservoir was flooded
	testFrom     = 10 * time.Hour   // the hours in which a grower has time for a proof test
	testUntil    = 18 * time.Hour
	testRetry    = 15 * time.Minute
	testNeeds    = time.Hour // no flood may be due for so long
	testEvery    = 30        // days
	lift         = 5 * time.Second
	betweenLifts = 5 * time.Second
)

// attend plans a grower's days: reservoirs are refilled each morning, switches
// proved once a month.
func (r *rehearsal) attend() {
	for day := range r.scenario.Days {
		d := r.scenario.From.AddDays(day)
		r.agenda.at(r.elapsedAt(d.At(schedule.TimeOfDay(refillAt/time.Second)).In(r.site.Zone)), func() {
			for i := range r.site.Reservoirs {
				r.refillWhenEmpty(i)
			}
		})
		if day%testEvery == testEvery-1 {
			r.proveWhenQuiet(d)
		}
	}
}

// refillWhenEmpty refills a reservoir once its tables are empty. A grower who
// waits for that already does not begin to wait anew.
func (r *rehearsal) refillWhenEmpty(reservoir int) {
	if !r.waiting[reservoir] {
		r.waiting[reservoir] = true
		r.tryRefill(reservoir)
	}
}

func (r *rehearsal) tryRefill(reservoir int) {
	if r.world.Flooded(reservoir) {
		r.agenda.after(refillRetry, func() { r.tryRefill(reservoir) })
		return
	}
	r.waiting[reservoir] = false
	r.refill(reservoir)
}

func (r *rehearsal) refill(reservoir int) {
	r.note(reservoir, r.world.Refill(reservoir, r.world.Strength(reservoir)))
}

// note writes a top-up down, as far as a program is there to hear of it.
func (r *rehearsal) note(reservoir int, litres safety.Litres) {
	if litres > 0 {
		if step := r.options.Reads; step > 0 {
			litres = max(step, safety.Litres(math.Round(float64(litres/step)))*step)
		}
		if r.options.Poured != nil {
			r.options.Poured(r.start.Add(r.world.Elapsed()), litres)
		}
		_ = r.ask(func(c loop.Core) error { // nobody hears of it while the program is down
			c.Controller.ToppedUp(c.Now, reservoir, litres, c.Now.Wall)
			return nil
		})
	}
}

// proveWhenQuiet plans the proof test of a day, at the first time within hours
// at which no flood is under way or soon due.
func (r *rehearsal) proveWhenQuiet(d schedule.Date) {
	from, until := r.elapsedAt(d.At(0).In(r.site.Zone).Add(testFrom)), r.elapsedAt(d.At(0).In(r.site.Zone).Add(testUntil))
	var try func()
	try = func() {
		switch {
		case r.quiet():
			r.perform(&Act{Do: "proof-test"})
		case r.world.Elapsed() < until:
			r.agenda.after(testRetry, try)
		}
	}
	r.agenda.at(from, try)
}

func (r *rehearsal) quiet() bool {
	if r.loop == nil {
		return false
	}
	r.control.StatusInto(&r.status)
	for b := range r.status.Benches {
		s := &r.status.Benches[b]
		if !atRest(s) || s.HasNext && s.Next.Due.Sub(r.status.Now.Wall) < testNeeds || r.world.Depth(b) > 0 {
			return false
		}
	}
	return true
}

// proofTest lifts every FULL and HIGH under hands-in, one after the other.
func (r *rehearsal) proofTest(int, *Act) error {
	if err := r.setHandsIn(true); err != nil {
		return err
	}
	step := time.Second
	then := func(do func()) {
		r.agenda.after(step, do)
		step += betweenLifts
	}
	then(func() { r.testing(true) })
	for i := range r.site.Benches {
		b := &r.site.Benches[i]
		if b.Full != nil {
			r.planLift(b.Name+".full", &step)
		}
		if b.High != nil {
			r.planLift(b.Name+".high", &step)
		}
	}
	then(func() { r.testing(false) })
	then(func() { _ = r.setHandsIn(false) }) // a program that died in between has forgotten it
	return nil
}

func (r *rehearsal) planLift(where string, step *time.Duration) {
	for _, up := range [...]bool{true, false} {
		r.agenda.after(*step, func() {
			if err := r.world.Lift(where, up); err != nil {
				r.diary.act(&Act{Do: "proof-test", Where: where}, err)
			}
		})
		*step += lift
	}
}

func (r *rehearsal) testing(on bool) {
	for b := range r.site.Benches {
		err := r.ask(func(c loop.Core) error { return c.Guard.ProofTest(c.Now, b, on) })
		if err != nil {
			r.diary.act(&Act{Do: "proof-test", Where: r.site.Benches[b].Name}, err)
		}
	}
}
