package rehearse

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// Times of the machine that a rehearsed program runs on.
const (
	serviceRestart = 5 * time.Second  // from a crash to the next start of the program
	watchdog       = 10 * time.Second // a program that hangs for longer is killed
	bootTime       = 30 * time.Second // from power to the start of the program
	syncDelay      = time.Minute      // from there until the clock is trusted
	syncRetry      = time.Minute
)

// startProgram starts the program: it goes on from the last checkpoint, if one
// was ever stored. A program that cannot put every output off ends, and is
// started again by its service; an expander that does not answer keeps none from
// its turns, as in loop.Run.
func (r *rehearsal) startProgram() error {
	err := r.board.Apply(safety.Command{})
	if errors.Is(err, sim.ErrDeaf) {
		r.back = r.world.Elapsed() + serviceRestart
		return nil
	}
	if err != nil && !errors.Is(err, sim.ErrGone) {
		return err
	}
	now, boot := r.world.Now(), fmt.Sprintf("boot-%d", r.world.Host().Boots)
	guard := safety.State{}
	if cp := r.ledger.Checkpoint; cp != nil {
		guard = cp.Guard
		r.control, err = controller.Resume(r.setup, now, cp.Controller, boot)
	} else {
		r.control, err = controller.New(r.setup, now)
	}
	if err != nil {
		return err
	}
	r.loop = loop.New(loop.Parts{
		Clock: r.world, Board: r.board, Limits: r.setup.Limits, Ledger: r.storage, Spare: r.storage.Spare, Boot: boot,
		Guard: safety.New(r.setup.Limits, guard, now, boot), Controller: r.control,
		Forgets: !r.scenario.restarts(), Names: Names(r.site), Publish: r.options.Publish, Sinks: r.sinks(),
	})
	r.back = never
	r.turn()
	return nil
}

// restarts reports whether a fault of the scenario ends the program, so that
// another one goes on from what is stored, or troubles what stores it.
func (s *Scenario) restarts() bool {
	return slices.ContainsFunc(s.Faults, func(f Fault) bool {
		switch f.What {
		case "power-cut", "brownout-loop", "process-crash", "process-hang", "storage-full", "storage-broken", "storage-slow":
			return true
		}
		return false
	})
}

func (r *rehearsal) sinks() []loop.Sink {
	all := []loop.Sink{r.checker, r.diary}
	if r.options.Each != nil {
		all = append(all, &observations{r, r.world.Litres, r.world.Depth, r.world.Flooded, r.dryOf})
	}
	if !r.options.NoDrift {
		all = append(all, r.drift)
	}
	return append(all, r.options.Sinks...)
}

// stopProgram drops everything that the program knew but did not store.
func (r *rehearsal) stopProgram() {
	r.loop, r.control, r.back = nil, nil, never
	r.storage.Acknowledged() // the program will not hear of these
	forgot := r.storage.forget()
	r.checker.lost(max(0, r.bootClock(r.world.Elapsed())-r.next), forgot || r.ledger.Lost > 0)
}

// pass lets time pass without the program, and starts it when it can.
func (r *rehearsal) pass() error {
	now, host := r.world.Elapsed(), r.world.Host()
	if !host.Powered && !r.dark {
		r.dark, r.darkFrom = true, now
	}
	switch {
	case !host.Powered || host.Crashing:
		r.back = never
	case r.back == never && r.dark:
		r.back = now + bootTime
	case r.back == never:
		r.back = now
	}
	if now >= r.back {
		return r.restart()
	}
	r.world.Step(min(r.back, r.agenda.next(), r.horizon()))
	r.agenda.run()
	return nil
}

// restart starts the program after a crash or a boot. A machine without a
// clock chip comes back with the time at which it lost its power, and does not
// trust it until the network has told it better.
func (r *rehearsal) restart() error {
	if err := r.world.Start(); err != nil {
		return err
	}
	if r.dark {
		off := r.world.Elapsed() - r.darkFrom
		r.dark = false
		r.behind += off
		r.world.Trust(false)
		if err := r.shiftWall(-off); err != nil {
			return err
		}
		r.agenda.after(syncDelay, r.synchronise)
	}
	return r.startProgram()
}

// synchronise sets the clock by the network, when that is up.
func (r *rehearsal) synchronise() {
	switch host := r.world.Host(); {
	case r.behind == 0:
		return
	case !host.Running || host.NetworkDown:
		r.agenda.after(syncRetry, r.synchronise)
		return
	}
	if err := r.shiftWall(r.behind); err == nil {
		r.behind = 0
		r.world.Trust(true)
	}
}

func (r *rehearsal) shiftWall(by time.Duration) error {
	f := sim.Fault{What: "clock-jump", At: r.world.Elapsed(), For: by.Abs(), Size: 1}
	if by < 0 {
		f.Size = -1
	}
	return r.world.Inject(f)
}
