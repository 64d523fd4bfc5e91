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
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/drift"
	"benchtide/controller/live"
	"benchtide/controller/loop"
	"benchtide/controller/metrics"
	"benchtide/controller/notify"
	"benchtide/controller/rehearse"
	"benchtide/controller/web"
	"benchtide/controller/web/page"
	"benchtide/hw"
)

// daemonFlags are common to run and demo.
type daemonFlags struct {
	listenFlags
	JSON bool `help:"Log one JSON object a line."`
}

// machine is a board with its clock.
type machine struct {
	clock   hw.Clock
	mono    func() time.Duration // the boot-time clock, for any goroutine
	board   hw.Board
	boot    string
	deadMan bool
	sinks   []loop.Sink // that go with the board
	alive   func()      // is told of each good turn; may be nil
	speed   float64     // how much faster than real time the clock runs; 0 means it does not
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
	socket, err := openSocket(s, k, f.listenFlags)
	if err != nil {
		return errors.Join(err, address.Close())
	}
	told := newLines(s.Err) // left open: a connection that ends late may have a last word
	doors, err := newDoors(address, socket, f.listenFlags, slog.New(slog.NewTextHandler(told, nil)))
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
			at := f.scheme() + "://" + place(address.Addr())
			s.Notice("%s: the page is at %s/, metrics at %s/metrics", k.site.Name, at, at)
			go manager.Serve(ctx, func() { wake.Load().Wake() })
			time.AfterFunc(settledAfter, giveBack)
		}
		next, err := d.keep(ctx, r)
		d.api.Close()
		d.post.close()
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

// daemon is a site put together.
type daemon struct {
	loop     *loop.Loop
	registry *prometheus.Registry
	api      *web.API
	live     *live.Site
	post     *post
}

func newDaemon(k kept, m machine, manager *serviceManager, j *journal) (*daemon, error) {
	guard, c, setup, err := k.core(m.clock.Now(), m.boot)
	if err != nil {
		return nil, err
	}
	if len(k.found) > 0 { // in one message, since one cause is one alarm
		c.Tell(controller.Message{Urgency: controller.Urgent, Bench: -1, Cause: "record", Text: strings.Join(k.found, " ")})
	}
	if k.notInForce != nil {
		c.Tell(notInForce(k.notInForce))
	}
	names := rehearse.Names(k.site)
	d := &daemon{registry: prometheus.NewRegistry()}
	collector := metrics.New(metrics.Site{
		Limits: setup.Limits, Batches: names.Batches, Build: cli.Build(), Mono: m.mono, LedgerErrors: k.errors,
		Picture: func() *loop.Picture { return d.loop.Picture() },
	})
	d.registry.MustRegister(collector, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	watch := drift.NewWatch(rehearse.Drift(k.site), k.site.Zone, func(_ drift.Finding, m controller.Message) {
		c.Tell(m)
		d.loop.Wake()
	})
	if err := remember(context.Background(), watch, &k, m.clock.Now().Wall); err != nil {
		c.Tell(controller.Message{Urgency: controller.ThisWeek, Bench: -1, Cause: "drift",
			Text: fmt.Sprintf("How long floods took before cannot be read (%v): slow changes of the benches are found only after some weeks. Look at the storage.", err)})
	}
	post, found := newPost(k, m, names)
	for _, message := range found {
		c.Tell(message)
	}
	d.post = post
	d.registry.MustRegister(notify.NewCollector(post.desk, post.heart))
	sinks := []loop.Sink{collector, j, post.desk, watch, &managerSink{manager: manager}}
	sinks = append(sinks, &storageWatch{stats: k.ledger.Stats, tell: func(m controller.Message) {
		c.Tell(m)
		d.loop.Wake()
	}})
	o := live.Options{
		Site: k.site, Names: names, Ledger: k.ledger, Dir: k.dir, Kept: k.lasting() != "", Desk: post.desk, Checked: k.checked,
		Publish: func(e live.Event) { d.api.Publish(e) }, Rebaseline: watch.Rebaseline,
	}
	if post.heart != nil {
		o.Heart = post.heart
	}
	d.live = live.New(o)
	d.registry.MustRegister(supplyCollector{d.live})
	d.api = web.New(web.Options{
		Site: d.live, Record: d.live.Record(), Messages: d.live.Messages(), Zone: k.site.Zone, Facts: live.FactsOf(k.site, cli.Build().Version), Presence: k.presence,
	})
	sinks = append(sinks, d.live)
	d.loop = loop.New(loop.Parts{
		Clock: m.clock, Board: m.board, Guard: guard, Controller: c, Limits: setup.Limits, Names: names, Publish: true,
		Ledger: k.ledger, Sinks: append(sinks, m.sinks...), Heartbeat: heartbeat,
		Boot: m.boot, DeadMan: m.deadMan, Alive: both(both(manager.Alive, m.alive), post.Alive),
	})
	d.live.Follow(d.loop)
	post.begin(d.loop, d.live.Tell)
	k.ledger.OnAcknowledged(d.loop.Wake)
	return d, nil
}

// handler is what the daemon shows.
func (d *daemon) handler() http.Handler {
	mux := http.NewServeMux()
	scrape := promhttp.HandlerFor(d.registry, promhttp.HandlerOpts{EnableOpenMetrics: true, MaxRequestsInFlight: 32})
	mux.Handle("GET /metrics", d.api.Together(scrape, "Accept", "Accept-Encoding"))
	mux.Handle("/api/v1/", d.api)
	mux.Handle("/", page.Handler())
	return mux
}
