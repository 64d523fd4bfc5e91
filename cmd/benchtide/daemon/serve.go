// Package daemon has the commands that keep a bench: run on its board, and demo on
// a simulated one. Each puts a board and its clock together and hands them to
// serve, which keeps the site until it is told to stop.
//
// A site that is kept is a loop with what hangs on it: the record, the messages,
// the API and the page, the metrics. A changed file has all of it put together
// anew around the same guard.
package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/loop"
)

// daemonFlags are common to run and demo.
type daemonFlags struct {
	listenFlags
	JSON bool `help:"Log one JSON object a line."`
}

// settledAfter is how long after its start a daemon has touched what only a
// start touches.
const settledAfter = 5 * time.Second

// serve keeps the site on the machine until it is told to stop, then puts
// every output off and closes the board. With a reloader a changed file takes
// the place of the one in force.
func serve(ctx context.Context, s *cli.Session, k kept, m machine, address net.Listener, f daemonFlags, r *reloader) (err error) {
	ctx, stop := cli.UntilOneOf(ctx, stopSignals(s, r)...)
	defer stop()
	out := newLines(s.Out)
	defer func() {
		err = errors.Join(err, m.board.Close(), k.close())
		out.Close()
		if err == nil {
			s.Notice("all off")
		}
	}()
	manager, err := newServiceManager()
	if err != nil {
		return errors.Join(err, address.Close())
	}
	doors, err := openDoors(s, k, address, f.listenFlags)
	if err != nil {
		return errors.Join(err, address.Close())
	}
	defer func() { err = errors.Join(err, doors.close()) }()
	var wake atomic.Pointer[loop.Loop]
	for first := true; ; first = false {
		d, err := newDaemon(k, m, manager, newJournal(out, cli.IsTerminal(s.Out), f.JSON))
		if err != nil {
			return err
		}
		wake.Store(d.loop)
		doors.show(d.handler())
		if first {
			doors.open()
			f.announce(s, k.site.Name, address.Addr())
			go manager.Serve(ctx, func() { wake.Load().Wake() })
			time.AfterFunc(settledAfter, giveBack)
		}
		next, err := d.keep(ctx, r)
		d.close()
		if err != nil || next == nil || ctx.Err() != nil {
			return err
		}
		if k, m, err = r.swap(ctx, d, k, m, *next); err != nil {
			return err
		}
	}
}

// keep runs the loop until ctx ends or a new version of the file has its
// moment, and returns that.
func (d *daemon) keep(ctx context.Context, r *reloader) (*version, error) {
	if r == nil {
		return nil, d.loop.Run(ctx)
	}
	ctx, end := context.WithCancel(ctx)
	found := make(chan *version, 1)
	go func() {
		found <- r.await(ctx, d)
		end()
	}()
	err := d.loop.Run(ctx)
	end()
	return <-found, err
}

// stopSignals end the program. A hangup has the file read again, except on a
// terminal, which has gone away then.
func stopSignals(s *cli.Session, r *reloader) []os.Signal {
	stop := []os.Signal{syscall.SIGINT, syscall.SIGTERM}
	if r == nil || cli.IsTerminal(s.Out) {
		return append(stop, syscall.SIGHUP)
	}
	hangups := make(chan os.Signal, 1)
	signal.Notify(hangups, syscall.SIGHUP)
	r.hangups = hangups
	return stop
}

// openDoors puts the address and the commands' socket together; nobody is served
// yet.
func openDoors(s *cli.Session, k kept, address net.Listener, f listenFlags) (*doors, error) {
	socket, err := openSocket(s, k, f)
	if err != nil {
		return nil, err
	}
	told := newLines(s.Err) // left open: a connection that ends late may have a last word
	return newDoors(address, socket, f, slog.New(slog.NewTextHandler(told, nil)))
}

// announce tells a person where the site is heard.
func (f listenFlags) announce(s *cli.Session, site string, address net.Addr) {
	at := f.scheme() + "://" + external(address)
	s.Notice("%s: the page is at %s/, metrics at %s/metrics", site, at, at)
}

// openSocket opens the commands' socket; nil where there is no place for one.
// Only one that somebody asked for has to open.
func openSocket(s *cli.Session, k kept, f listenFlags) (net.Listener, error) {
	path := f.socketPath(k.lasting())
	if path == "" {
		return nil, nil
	}
	l, err := listenSocket(path)
	if err != nil && f.Socket == "" {
		s.Notice("%v. The commands reach this program at its address.", err)
		return nil, nil
	}
	return l, err
}
