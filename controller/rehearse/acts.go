package rehearse

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"benchtide/controller/config"
	"benchtide/controller/loop"
)

// act is one kind of thing that a person can do.
type act struct {
	places func(*config.Site) []string // what Where may be; nil when it has no place
	needs  []string                    // keys that must be there
	do     func(r *rehearsal, place int, a *Act) error
}

var acts map[string]act

func init() {
	bench := func(do func(r *rehearsal, bench int, a *Act) error, needs ...string) act {
		return act{(*config.Site).BenchNames, needs, do}
	}
	acts = map[string]act{
		"flood":  bench(asks(func(c loop.Core, bench int, a *Act) error { return c.Controller.Flood(c.Now, bench, a.Hold) })),
		"stop":   bench(asks(func(c loop.Core, bench int, _ *Act) error { return c.Controller.StopFlood(c.Now, bench) })),
		"skip":   bench(asks(skip)),
		"unskip": bench(asks(undoSkip)),
		"pause":  bench(asks(func(c loop.Core, bench int, a *Act) error { return c.Controller.Pause(c.Now, bench, a.Until, grower) }), "until"),
		"resume": bench(asks(func(c loop.Core, bench int, _ *Act) error { return c.Controller.Resume(c.Now, bench) })),
		"reset":  bench(asks(func(c loop.Core, bench int, a *Act) error { return c.Guard.Reset(c.Now, bench, a.Found) }), "found"),
		"mop":    bench((*rehearsal).mop),

		"sanitise": bench(asks(func(c loop.Core, bench int, _ *Act) error { return c.Controller.Sanitise(c.Now, bench, grower) })),
		"rinsed":   bench((*rehearsal).rinsed),
		"baseline": bench((*rehearsal).baseline),

		"top-up": {places: (*config.Site).ReservoirNames, do: (*rehearsal).topUp},

		"hands-in":   {do: (*rehearsal).handsIn},
		"proof-test": {do: (*rehearsal).proofTest},
	}
}

// grower is who does all of it.
const grower = "the grower"

func actNames() []string { return slices.Sorted(maps.Keys(acts)) }

// perform does a and notes how it went.
func (r *rehearsal) perform(a *Act) {
	kind, place := acts[a.Do], -1
	if kind.places != nil {
		place = slices.Index(kind.places(r.site), a.Where)
	}
	r.diary.act(a, kind.do(r, place, a))
}

var errNotRunning = errors.New("the program is not running")

// ask is a request to the running program.
func (r *rehearsal) ask(f func(loop.Core) error) error {
	if r.loop == nil {
		return errNotRunning
	}
	return r.loop.Act(f)
}

// baseline has slow changes counted from now on, as after cleaning.
func (r *rehearsal) baseline(bench int, _ *Act) error {
	r.drift.Rebaseline(bench)
	return nil
}

// asks is an act that is a request to the running program.
func asks(do func(c loop.Core, bench int, a *Act) error) func(*rehearsal, int, *Act) error {
	return func(r *rehearsal, bench int, a *Act) error {
		return r.ask(func(c loop.Core) error { return do(c, bench, a) })
	}
}

func skip(c loop.Core, bench int, _ *Act) error {
	_, err := c.Controller.SkipNext(c.Now, bench)
	return err
}

func undoSkip(c loop.Core, bench int, _ *Act) error {
	_, err := c.Controller.UndoSkip(c.Now, bench, 0)
	return err
}

// rinsed ends sanitising, and has slow changes counted from now on.
func (r *rehearsal) rinsed(bench int, a *Act) error {
	err := r.ask(func(c loop.Core) error { return c.Controller.Rinsed(c.Now, bench, grower) })
	if err == nil {
		for b := range r.site.Benches {
			if r.site.Benches[b].Reservoir == r.site.Benches[bench].Reservoir {
				_ = r.baseline(b, a) // it cannot fail
			}
		}
	}
	return err
}

func (r *rehearsal) mop(bench int, _ *Act) error {
	r.world.Mop(bench)
	return nil
}

func (r *rehearsal) topUp(reservoir int, _ *Act) error {
	if r.world.Flooded(reservoir) {
		return fmt.Errorf("top up %s: a table of it is flooded; wait until it has drained", r.site.Reservoirs[reservoir].Name)
	}
	r.refill(reservoir)
	return nil
}

func (r *rehearsal) handsIn(_ int, a *Act) error {
	if a.On && a.For > 0 {
		r.agenda.after(a.For, func() { r.perform(&Act{Do: a.Do}) })
	}
	return r.setHandsIn(a.On)
}

func (r *rehearsal) setHandsIn(on bool) error {
	return r.ask(func(c loop.Core) error {
		c.Guard.SetHandsIn(c.Now, on)
		return nil
	})
}
