package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
)

type demoCommand struct {
	daemonFlags
	State string  `placeholder:"DIR" help:"Where the record and the bench are kept, and gone on from; without it nothing is kept."`
	Speed float64 `default:"60" placeholder:"N" help:"How many times faster than real time the bench runs; ${default} unless given."`
}

func (demoCommand) Help() string {
	return `The bench begins 12 minutes before the first flood of a day, full of water and
with all well. Interrupt it to end. With --state the next demo goes on from there.

Example:

    benchtide demo --speed 120`
}

// Validate refuses a pace at which nothing would move.
func (c demoCommand) Validate() error {
	if !(c.Speed > 0) || math.IsInf(c.Speed, 0) {
		return fmt.Errorf("--speed %v: give a number above 0, such as 60", c.Speed)
	}
	return nil
}

func (c demoCommand) Run(ctx context.Context, s *session) error {
	site, problems := config.Parse(exampleName, config.Example)
	if err := problems.Err(); err != nil {
		return err
	}
	start, err := demoStart(site)
	if err != nil {
		return err
	}
	listener, err := c.listen()
	if err != nil {
		return err
	}
	k, err := openRecord(kept{dir: c.State}, site)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	m, err := c.machine(s, &k, start)
	if err != nil {
		return errors.Join(err, listener.Close(), k.close())
	}
	s.notice("The built-in example on a simulated bench, %g times faster than real time, from %s.",
		c.Speed, m.clock.Now().Wall.In(site.Zone).Format("Monday 2 January 2006 15:04"))
	return serve(ctx, s, k, m, listener, c.daemonFlags, nil)
}

// machine is the simulated bench with its paced clock, gone on with where it
// is kept.
func (c demoCommand) machine(s *session, k *kept, start time.Time) (machine, error) {
	world, start, err := resumeWorld(k.dir, k.site, k.checkpoint, start)
	if err != nil {
		return machine{}, err
	}
	clock := newPacedClock(world, c.Speed)
	m := machine{clock: clock, mono: clock.Mono, board: world, boot: "demo"}
	if !k.passing {
		m.sinks = append(m.sinks, &worldKeeper{world: world, start: start, path: filepath.Join(k.dir, simulatedName), tell: s.notice})
	}
	k.recordGrace = time.Duration(float64(controller.DefaultRecordGrace) * c.Speed) // storage is as fast as ever
	return m, nil
}

// beforeFirstFlood is long enough to see the stirrer begin.
const beforeFirstFlood = 12 * time.Minute

// demoStart is a little before the first flood of a day on which the plants
// of the first batch are half way through their plan.
func demoStart(site *config.Site) (time.Time, error) {
	calendar, err := site.Calendar()
	if err != nil {
		return time.Time{}, err
	}
	batch := site.Batches[0]
	stages := site.Plans[batch.Plan].Stages
	day := batch.Transplanted.AddDays(stages[len(stages)/2].FromDay)
	first, ok := calendar.After(batch.Bench, day.At(0))
	if !ok {
		return time.Time{}, fmt.Errorf("begin the demo: no flood is planned after %s", day)
	}
	return first.Due.Add(-beforeFirstFlood), nil
}
