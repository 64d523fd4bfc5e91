package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
)

type demoCommand struct {
	daemonFlags
	State string  `placeholder:"DIR" help:"Where the record and the bench are kept, and gone on from; without it nothing is kept."`
	Speed float64 `default:"60" placeholder:"N" help:"How many times faster than real time the bench runs; ${default} unless given."`
}

func (demoCommand) Help() string {
	return `The bench begins 12 minutes before the first flood of a day, full of water and
with all well. Interrupt it to end; nothing is kept.

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
	world, err := rehearse.NewWorld(site, start)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	k, err := openRecord(c.State, site)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	s.notice("The built-in example on a simulated bench, %g times faster than real time, from %s.",
		c.Speed, start.In(site.Zone).Format("Monday 2 January 2006 15:04"))
	clock := newPacedClock(world, c.Speed)
	k.recordGrace = time.Duration(float64(controller.DefaultRecordGrace) * c.Speed) // storage is as fast as ever
	return serve(ctx, s, k, machine{clock: clock, mono: clock.Mono, board: world, boot: "demo"}, listener, c.daemonFlags)
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
