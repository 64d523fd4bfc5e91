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
}

func (runCommand) Help() string {
	return `Keeps the site until it is interrupted or terminated, then puts every output off.
With "board: simulated" the bench is simulated in real time.

Example:

    benchtide run -c /etc/benchtide/bench.yaml`
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
	m, err := openMachine(site)
	if err != nil {
		return errors.Join(fmt.Errorf("%w. Nothing was switched on", err), listener.Close())
	}
	s.notice("The record of floods is kept in memory only: it is forgotten at a restart.")
	return serve(ctx, s, site, m, listener, c.JSON)
}

// openMachine opens the site's board beside the machine's own clock.
func openMachine(site *config.Site) (machine, error) {
	clock := hw.NewSystemClock()
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
