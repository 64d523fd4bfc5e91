package main

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"os/signal"
	"syscall"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/controller/metrics"
	"benchtide/controller/rehearse"
	"benchtide/controller/web"
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
}

// serve keeps the site on the machine until it is told to stop, then puts
// every output off and closes the board.
func serve(ctx context.Context, s *session, k kept, m machine, address net.Listener, f daemonFlags) (err error) {
	ctx, stop := untilSignal(ctx)
	defer stop()
	out := newLines(s.out)
	defer func() {
		err = errors.Join(err, m.board.Close(), k.close())
		out.Close()
		if err == nil {
			s.notice("all off")
		}
	}()
	d, err := newDaemon(k, m, newJournal(namesOf(k.site), out, isTerminal(s.out), f.JSON))
	if err != nil {
		return errors.Join(err, address.Close())
	}
	defer d.api.Close()
	socket, err := openSocket(s, k, f.listenFlags)
	if err != nil {
		return errors.Join(err, address.Close())
	}
	doors := &doors{}
	doors.show(d.handler())
	doors.open(address, socket, f.listenFlags, slog.New(slog.NewTextHandler(s.err, nil)))
	defer func() { err = errors.Join(err, doors.close()) }()
	s.notice("%s: metrics at http://%s/metrics", k.site.Name, address.Addr())
	go d.manager.Serve(ctx, d.loop.Wake)
	return d.loop.Run(ctx)
}

// openSocket opens the commands' socket; nil where there is no place for one.
// Only one that somebody asked for has to open.
func openSocket(s *session, k kept, f listenFlags) (net.Listener, error) {
	path := f.socketPath(k.lasting())
	if path == "" {
		return nil, nil
	}
	l, err := listenSocket(path)
	if err != nil && f.Socket == "" {
		s.notice("%v. The commands reach this program at its address.", err)
		return nil, nil
	}
	return l, err
}

// untilSignal returns a context that ends when the program is asked to stop
// or its terminal goes away; a second signal ends the program at once. A
// reader that closes its end of a pipe is no reason to die with a pump on.
func untilSignal(ctx context.Context) (context.Context, context.CancelFunc) {
	signal.Ignore(syscall.SIGPIPE)
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP)
	context.AfterFunc(ctx, stop)
	return ctx, stop
}

// daemon is a site put together.
type daemon struct {
	loop     *loop.Loop
	registry *prometheus.Registry
	manager  *serviceManager
	api      *web.API
}

func newDaemon(k kept, m machine, j *journal) (*daemon, error) {
	manager, err := newServiceManager()
	if err != nil {
		return nil, err
	}
	guard, c, setup, err := k.core(m.clock.Now(), m.boot)
	if err != nil {
		return nil, err
	}
	for _, text := range k.alarms {
		c.Tell(controller.Message{Urgency: controller.Urgent, Bench: -1, Cause: "storage", Text: text})
	}
	collector := metrics.New(metrics.Site{
		Limits: setup.Limits, Batches: j.names.batches, Build: build(), Status: c.StatusInto, Mono: m.mono, LedgerErrors: k.errors,
	})
	d := &daemon{registry: prometheus.NewRegistry(), manager: manager}
	d.registry.MustRegister(collector, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	watch := drift.NewWatch(rehearse.Drift(k.site), j.names.benches, k.site.Zone, func(_ drift.Finding, m controller.Message) {
		c.Tell(m)
		d.loop.Wake()
	})
	sinks := []loop.Sink{collector, j, watch, &managerSink{manager: manager, picture: c.StatusInto, names: j.names}}
	sinks = append(sinks, &storageWatch{ledger: k.ledger, tell: func(m controller.Message) {
		c.Tell(m)
		d.loop.Wake()
	}})
	live := &liveSite{site: k.site, picture: c.StatusInto, names: webNames(k.site), journal: &j.names, record: k.ledger.Stats, kept: k.lasting() != ""}
	d.api = web.New(web.Options{Site: live, Record: k.record(d.cleaned(watch, j.names.benches)), Zone: k.site.Zone, Facts: factsOf(k.site)})
	live.publish = d.api.Publish
	sinks = append(sinks, live)
	d.loop = loop.New(loop.Parts{
		Clock: m.clock, Board: m.board, Guard: guard, Controller: c, Limits: setup.Limits,
		Ledger: k.ledger, Sinks: append(sinks, m.sinks...), Heartbeat: heartbeat,
		Boot: m.boot, DeadMan: m.deadMan, Alive: manager.Alive,
	})
	live.loop = d.loop
	k.ledger.OnAcknowledged(d.loop.Wake)
	return d, nil
}

// cleaned has the watch on slow changes begin anew where somebody cleaned.
func (d *daemon) cleaned(watch *drift.Watch, names []string) func(web.Note) {
	return func(n web.Note) {
		if n.Kind != string(ledger.Cleaning) {
			return
		}
		_ = d.loop.Do(context.Background(), func(loop.Core) error { // it only fails when the loop has ended
			for b, name := range names {
				if n.Place == "" || n.Place == name {
					watch.Rebaseline(b)
				}
			}
			return nil
		})
	}
}

// handler is what the daemon shows.
func (d *daemon) handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(d.registry, promhttp.HandlerOpts{}))
	mux.Handle("/api/v1/", d.api)
	return mux
}

// namesOf lists the names that events refer to by index.
func namesOf(site *config.Site) names {
	n := names{zone: site.Zone}
	for _, o := range site.Outputs {
		n.outputs = append(n.outputs, o.Name)
	}
	for _, b := range site.Benches {
		n.benches = append(n.benches, b.Name)
	}
	for _, r := range site.Reservoirs {
		n.reservoirs = append(n.reservoirs, r.Name)
	}
	for _, b := range site.Batches {
		n.batches = append(n.batches, b.Name)
	}
	return n
}
