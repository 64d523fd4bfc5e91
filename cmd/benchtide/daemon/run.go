package daemon

import (
	"context"
	"errors"
	"fmt"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/hw"
)

// Run is the daemon.
type Run struct {
	cli.SiteFile
	daemonFlags
	stateFlags
	watchdogFlags
}

// Help is what its --help says beside the flags, with an example.
func (Run) Help() string {
	return `Keeps the site until it is interrupted or terminated, then puts every output off.
With "board: simulated" the bench is simulated in real time. A wired board floods
by itself once this wiring is commissioned; until then only with --attended.

SIGHUP has the file read again. A sound one comes into force when nothing floods,
one with an error changes nothing. On a terminal SIGHUP ends the program, as its
going away does.

Example:

    benchtide run -c /etc/benchtide/bench.yaml --state /var/lib/benchtide`
}

// Run keeps the site until ctx ends or the program is told to stop. An error says
// whether anything was switched on.
func (c Run) Run(ctx context.Context, s *cli.Session) error {
	name, text, err := c.Read(s)
	if err != nil {
		return err
	}
	c.stay(name)
	board, err := openWired(name, text)
	if err != nil {
		return fmt.Errorf("%w. Nothing was switched on", err)
	}
	v, err := newVersion(s, name, text)
	if err != nil {
		return errors.Join(err, closeBoard(board))
	}
	address, err := c.listen()
	if err != nil {
		return errors.Join(err, closeBoard(board))
	}
	clock := hw.NewSystemClock()
	dog := &watchdog{mono: func() time.Duration { return clock.Now().Mono }, notice: s.Notice}
	var inForce kept
	start := func(ctx context.Context, v version, at kept) (kept, machine, error) {
		opened := board
		board = nil // for the first version alone
		k, m, err := c.start(ctx, s, clock, opened, v, at)
		m.alive, inForce = dog.alive, k
		return k, m, err
	}
	k, m, err := start(ctx, v, kept{dir: c.dir()})
	if err != nil {
		return errors.Join(fmt.Errorf("%w. Nothing was switched on", err), address.Close())
	}
	if err := dog.open(c.Watchdog); err != nil {
		return errors.Join(fmt.Errorf("%w. Nothing was switched on", err), m.board.Close(), k.close(), address.Close())
	}
	return dog.close(serve(ctx, s, k, m, address, c.daemonFlags, &reloader{
		inForce: v, read: func() (version, error) { return c.version(s) }, start: start, notice: s.Notice,
		overdue: func(ctx context.Context) []int { return inForce.overdue(ctx, clock.Now()) },
	}))
}

// stay has the file read again from where it was found: one that vanishes is an
// error then, and nothing takes its place.
func (c *Run) stay(name string) {
	if name == cli.UsualFile {
		c.Config = name
	}
}

// version reads the site's file.
func (c Run) version(s *cli.Session) (version, error) {
	name, text, err := c.Read(s)
	if err != nil {
		return version{}, err
	}
	return newVersion(s, name, text)
}

// start opens the board of a version, unless it is open, and then its record:
// the outputs are off before storage is waited for, which may take seconds.
func (c Run) start(ctx context.Context, s *cli.Session, clock *hw.SystemClock, opened hw.Board, v version, at kept) (kept, machine, error) {
	m, err := openMachine(v.site, clock, opened)
	if err != nil {
		return at, m, err
	}
	k, err := c.open(v.site, at, clock.Now())
	if err != nil {
		return k, m, errors.Join(err, m.board.Close())
	}
	k.besides = besides(v.name)
	if k.checkpoint != nil {
		clock.SetFloor(k.checkpoint.Controller.Known)
	}
	if err := k.noteSettings(ctx, v, clock.Now().Wall); err != nil {
		k.found = append(k.found, fmt.Sprintf("The version of the file is not on record: %v.", err))
	}
	for _, n := range k.notices {
		s.Notice("%s", n)
	}
	return k, m, nil
}
