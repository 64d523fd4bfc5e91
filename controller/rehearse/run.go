package rehearse

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// afterglow is how long a rehearsal goes on past its end for floods that are
// still under way.
const afterglow = 4 * time.Hour

const never = time.Duration(math.MaxInt64)

// Options are what a caller may want besides the report.
type Options struct {
	Progress func(done float64) // called as days pass, done from 0 to 1
	Sinks    []loop.Sink        // told of every turn besides the report
	Sample   func(Sample)       // called at every turn and every hour
	Each     func(Observation)  // called at every turn
	Publish  bool               // the turns bring a snapshot
	Pipes    Pipes              // kept from one rehearsal of a site to the next; may be nil
	Draws    *Draws             // the same; may be nil
	Bands    []quantity.Metres  // by reservoir how far below where they are made its floats really turn back, m; nil: as the file says
	NoRows   bool               // nobody reads the rows of the ledger
	NoDrift  bool               // nobody wants to hear of slow changes
	Crops    bool               // the report says what became of the crops

	// Built is the site as it stands, where whoever wrote its file measured it
	// otherwise; nil where it is as the file says but for what nature draws.
	Built *config.Site
	Timed bool // the floods of the site were timed already; see Timed

	Reads  safety.Litres                            // how finely the grower reads what was topped up; 0 to the last drop
	Poured func(at time.Time, litres safety.Litres) // called at each top-up with what the grower wrote down
}

// built is the site that the simulated world is made of.
func (o *Options) built(site *config.Site) *config.Site {
	if o.Built != nil {
		return o.Built
	}
	return site
}

// Pipes is the plumbing of a site, worked out once for all its rehearsals. Make
// one for each goroutine.
type Pipes = sim.Pipes

// Run plays the scenario on a simulated site and reports. The error is ctx's,
// or says why the site cannot be rehearsed; a rehearsal in which everything
// goes wrong is not an error.
func Run(ctx context.Context, site *config.Site, scenario Scenario, options Options) (*Report, error) {
	var refused []string
	if !options.Timed {
		var err error
		if site, refused, err = Timed(ctx, site, options.built(site), &scenario); err != nil {
			return nil, fmt.Errorf("rehearse: %w", err)
		}
	}
	r, err := prepare(site, scenario, options)
	if err != nil {
		return nil, fmt.Errorf("rehearse: %w", err)
	}
	if err := r.play(ctx); err != nil {
		return nil, err
	}
	rep := r.report()
	rep.NotTimed = refused
	return rep, nil
}

// rehearsal is one under way.
type rehearsal struct {
	site     *config.Site
	scenario Scenario
	options  Options
	setup    controller.Setup
	start    time.Time     // of the world
	end      time.Duration // since then

	world   *sim.World
	board   *observer
	ledger  *loop.Memory // what is stored
	storage *storage     // and how long that takes
	agenda  agenda
	waiting []bool // by reservoir: the grower waits to refill it
	diary   *logbook
	checker *checker
	drift   *drift.Watch

	loop     *loop.Loop // nil while the program does not run
	control  *controller.Controller
	next     time.Duration // boot-time clock of the turn that the loop planned
	back     time.Duration // elapsed time when a program that is down starts again; never while its cause lasts
	dark     bool          // the machine has been without power since darkFrom
	darkFrom time.Duration
	behind   time.Duration // how far the wall clock fell behind in power cuts
	status   controller.Status
}

func prepare(site *config.Site, scenario Scenario, options Options) (*rehearsal, error) {
	setup, err := Setup(site)
	if err != nil {
		return nil, err
	}
	if options.Draws != nil {
		setup.Draw = options.Draws.of(site)
	}
	from, to, start, end := scenario.span(site.Zone)
	c := worldConfig(options.built(site), start, &scenario)
	c.Pipes = options.Pipes
	for k, b := range options.Bands {
		c.Reservoirs[k].LowBand, c.Reservoirs[k].LevelBand = metres(b), metres(b)
	}
	if options.Crops {
		if err := cares(&c, options.built(site), scenario.Seed); err != nil {
			return nil, err
		}
	}
	world, err := sim.New(c)
	if err != nil {
		return nil, err
	}
	r := &rehearsal{
		site: site, scenario: scenario, options: options, setup: setup,
		start: start, end: end.Sub(start), world: world, ledger: &loop.Memory{}, back: never,
		waiting: make([]bool, len(site.Reservoirs)),
	}
	r.board = &observer{World: world, readings: safety.NewReadings(setup.Limits)}
	r.storage = &storage{Memory: r.ledger, now: world.Elapsed}
	r.agenda.now = world.Elapsed
	r.diary = newLogbook(site, setup.Calendar, start, world.Elapsed)
	r.drift = drift.NewWatch(Drift(site), site.Zone, r.diary.found)
	r.checker = newChecker(setup, from, to, r.board, r.local)
	if one, ok := CaseOf(site, &r.scenario); ok {
		r.checker.harm = newHarm(r.checker, one, r.elapsedAt(one.Fault.At))
	}
	return r, r.plan()
}

// plan puts faults, acts and the grower's days on the agenda.
func (r *rehearsal) plan() error {
	for _, f := range r.scenario.Faults {
		if err := r.inject(f); err != nil {
			return err
		}
	}
	for i := range r.scenario.Acts {
		a := &r.scenario.Acts[i]
		r.agenda.at(r.elapsedAt(a.At), func() { r.perform(a) })
	}
	if r.scenario.Attended {
		r.attend()
	}
	r.planSamples()
	if r.options.Progress != nil {
		for day := range r.scenario.Days {
			r.agenda.at(time.Duration(day)*24*time.Hour, func() { r.options.Progress(float64(day) / float64(r.scenario.Days)) })
		}
	}
	return nil
}

// inject plans a fault; a hang longer than the service's watchdog ends in a
// kill, and a crash in a restart.
func (r *rehearsal) inject(f Fault) error {
	s := sim.Fault{What: f.What, Where: f.Where, At: r.elapsedAt(f.At), For: f.For, Over: f.Over, Size: f.Size}
	if s.At < 0 {
		return fmt.Errorf("fault %s: %s is before the scenario begins", f.What, controller.Stamp(f.At, r.site.Zone))
	}
	switch {
	case f.What == "process-crash" && f.For == 0:
		s.For = serviceRestart
	case f.What == "process-hang" && f.For > watchdog:
		s.For = watchdog
		kill := sim.Fault{What: "process-crash", At: s.At + watchdog, For: serviceRestart, Size: 1}
		if err := r.world.Inject(kill); err != nil {
			return err
		}
	}
	return r.world.Inject(s)
}

// elapsedAt is when the true time is t, since the start of the world.
func (r *rehearsal) elapsedAt(t time.Time) time.Duration { return t.Sub(r.start) }

// local prints the true time as a person on site reads it.
func (r *rehearsal) local() string {
	return controller.Stamp(r.start.Add(r.world.Elapsed()), r.site.Zone)
}

// play takes turns until the scenario is over.
func (r *rehearsal) play(ctx context.Context) error {
	if err := r.startProgram(); err != nil {
		return fmt.Errorf("rehearse: %w", err)
	}
	for !r.over() {
		if err := ctx.Err(); err != nil {
			return err
		}
		if r.loop == nil {
			if err := r.pass(); err != nil {
				return fmt.Errorf("rehearse: %w", err)
			}
			continue
		}
		err := r.world.Wait(ctx, min(r.next, r.bootClock(min(r.agenda.next(), r.horizon(), r.storage.next()))), nil)
		switch {
		case errors.Is(err, sim.ErrDown):
			r.stopProgram()
		case err != nil:
			return err
		default:
			r.agenda.run()
			r.turn()
		}
	}
	return nil
}

func (r *rehearsal) turn() {
	host := r.world.Host()
	r.ledger.Broken = host.StorageFull || host.StorageBroken
	r.storage.slow(host.StorageSlow)
	r.next = r.loop.Turn()
	r.sample()
}

// horizon is where the next wait ends at the latest.
func (r *rehearsal) horizon() time.Duration {
	if now := r.world.Elapsed(); now >= r.end {
		return now + time.Minute
	}
	return r.end
}

// over reports whether the end has come and the last floods have ended.
func (r *rehearsal) over() bool {
	now := r.world.Elapsed()
	if now < r.end {
		return false
	}
	if r.loop == nil || now >= r.end+afterglow {
		return true
	}
	r.control.StatusInto(&r.status)
	for b := range r.status.Benches {
		if !atRest(&r.status.Benches[b]) {
			return false
		}
	}
	return true
}

func atRest(s *controller.BenchStatus) bool { return s.Phase == controller.Rest && s.Queued == 0 }

// bootClock is the boot-time clock at an elapsed time.
func (r *rehearsal) bootClock(elapsed time.Duration) time.Duration {
	if elapsed == never {
		return never
	}
	return elapsed - r.world.Base
}
