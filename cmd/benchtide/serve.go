package main

import (
	"context"
	"errors"
	"fmt"
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
	"benchtide/controller/loop"
	"benchtide/controller/metrics"
	"benchtide/controller/rehearse"
	"benchtide/hw"
)

// daemonFlags are common to run and demo.
type daemonFlags struct {
	Listen string `default:"127.0.0.1:8347" placeholder:"ADDR" help:"Where /metrics is served; ${default} unless given."`
	JSON   bool   `help:"Log one JSON object a line."`
}

// listen opens the address. It comes before the board, so that a second
// program on one site ends before it touches a line.
func (f daemonFlags) listen() (net.Listener, error) {
	l, err := net.Listen("tcp", f.Listen)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("listen on %q: the address is in use; stop the program that holds it, perhaps another benchtide, or give another --listen. Nothing was switched on", f.Listen)
	case err != nil:
		return nil, fmt.Errorf("listen on %q: %w; give an address of this machine, such as 127.0.0.1:8347. Nothing was switched on", f.Listen, err)
	}
	return l, nil
}

// machine is a board with its clock.
type machine struct {
	clock   hw.Clock
	mono    func() time.Duration // the boot-time clock, for any goroutine
	board   hw.Board
	boot    string
	deadMan bool
}

// serve keeps the site on the machine until it is told to stop, then puts
// every output off and closes the board.
func serve(ctx context.Context, s *session, k kept, m machine, listener net.Listener, asJSON bool) error {
	ctx, stop := untilSignal(ctx)
	defer stop()
	out := newLines(s.out)
	d, err := newDaemon(k, m, newJournal(namesOf(k.site), out, isTerminal(s.out), asJSON))
	if err != nil {
		out.Close()
		return errors.Join(err, m.board.Close(), listener.Close(), k.close())
	}
	server := d.serveHTTP(listener, slog.New(slog.NewTextHandler(s.err, nil)))
	s.notice("%s: metrics at http://%s/metrics", k.site.Name, listener.Addr())
	go d.manager.Serve(ctx, d.loop.Wake)

	err = d.loop.Run(ctx)
	err = errors.Join(err, m.board.Close(), server.Close(), k.close())
	out.Close()
	if err == nil {
		s.notice("all off")
	}
	return err
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
	if k.durable != nil {
		sinks = append(sinks, &storageWatch{ledger: k.durable, tell: func(m controller.Message) {
			c.Tell(m)
			d.loop.Wake()
		}})
	}
	d.loop = loop.New(loop.Parts{
		Clock: m.clock, Board: m.board, Guard: guard, Controller: c, Limits: setup.Limits,
		Ledger: k.ledger, Sinks: sinks, Heartbeat: heartbeat,
		Boot: m.boot, DeadMan: m.deadMan, Alive: manager.Alive,
	})
	if k.durable != nil {
		k.durable.OnAcknowledged(d.loop.Wake)
	}
	return d, nil
}

// readTimeout bounds how long a request may take to arrive.
const readTimeout = 10 * time.Second

// serveHTTP answers requests beside the loop. That it fails is told and
// changes nothing for the bench.
func (d *daemon) serveHTTP(l net.Listener, log *slog.Logger) *http.Server {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(d.registry, promhttp.HandlerOpts{}))
	server := &http.Server{Handler: mux, ReadTimeout: readTimeout, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	go func() {
		if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			log.Error("serve http: " + err.Error())
		}
	}()
	return server
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
