package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/hw"
	"benchtide/hw/gpio"
)

type runCommand struct {
	siteFile
	daemonFlags
	stateFlags
}

func (runCommand) Help() string {
	return `Keeps the site until it is interrupted or terminated, then puts every output off.
With "board: simulated" the bench is simulated in real time. A wired board floods
by itself once this wiring is commissioned; until then only with --attended.

Example:

    benchtide run -c /etc/benchtide/bench.yaml --state /var/lib/benchtide`
}

func (c runCommand) Run(ctx context.Context, s *session) error {
	site, warnings, err := c.load(s)
	if err != nil {
		return err
	}
	for _, w := range warnings {
		s.notice("%v", w)
	}
	listener, err := c.listen()
	if err != nil {
		return err
	}
	clock := hw.NewSystemClock()
	k, err := c.open(ctx, site, clock.Now())
	if err != nil {
		return errors.Join(fmt.Errorf("%w. Nothing was switched on", err), listener.Close())
	}
	if k.checkpoint != nil {
		clock.SetFloor(k.checkpoint.Controller.Known)
	}
	m, err := openMachine(k.site, clock)
	if err != nil {
		return errors.Join(fmt.Errorf("%w. Nothing was switched on", err), listener.Close(), k.close())
	}
	for _, n := range k.notices {
		s.notice("%s", n)
	}
	return serve(ctx, s, k, m, listener, c.daemonFlags)
}

// openMachine opens the site's board beside the machine's own clock.
func openMachine(site *config.Site, clock *hw.SystemClock) (machine, error) {
	m := machine{clock: clock, mono: func() time.Duration { return clock.Now().Mono }, boot: hw.BootID(), deadMan: true}
	if site.Board == config.GPIO {
		board, err := gpio.Open(wiring(site))
		m.board = board
		return m, err
	}
	world, err := rehearse.NewWorld(site, clock.Now().Wall)
	if err != nil {
		return m, err
	}
	m.board = newLiveBoard(world, clock, site.Limits())
	return m, nil
}
