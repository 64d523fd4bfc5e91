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
	"benchtide/safety"
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
func serve(ctx context.Context, s *session, site *config.Site, m machine, listener net.Listener, asJSON bool) error {
	ctx, stop := untilSignal(ctx)
	defer stop()
	out := newLines(s.out)
	d, err := newDaemon(site, m, newJournal(namesOf(site), out, isTerminal(s.out), asJSON))
	if err != nil {
		out.Close()
		return errors.Join(err, m.board.Close(), listener.Close())
	}
	server := d.serveHTTP(listener, slog.New(slog.NewTextHandler(s.err, nil)))
	s.notice("%s: metrics at http://%s/metrics", site.Name, listener.Addr())

	err = d.loop.Run(ctx)
	err = errors.Join(err, m.board.Close(), server.Close())
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
}

func newDaemon(site *config.Site, m machine, j *journal) (*daemon, error) {
	setup, err := rehearse.Setup(site)
	if err != nil {
		return nil, err
	}
	now := m.clock.Now()
	c, err := controller.New(setup, now)
	if err != nil {
		return nil, err
	}
	collector := metrics.New(metrics.Site{
		Limits: setup.Limits, Batches: j.names.batches, Build: build(), Status: c.StatusInto, Mono: m.mono,
	})
	d := &daemon{registry: prometheus.NewRegistry()}
	d.registry.MustRegister(collector, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	watch := drift.NewWatch(rehearse.Drift(site), j.names.benches, site.Zone, func(_ drift.Finding, m controller.Message) {
		c.Tell(m)
		d.loop.Wake()
	})
	d.loop = loop.New(loop.Parts{
		Clock: m.clock, Board: m.board, Controller: c, Limits: setup.Limits,
		Guard:  safety.New(setup.Limits, safety.State{}, now, m.boot),
		Ledger: &loop.Memory{}, Sinks: []loop.Sink{collector, j, watch},
		Boot: m.boot, DeadMan: m.deadMan,
	})
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
