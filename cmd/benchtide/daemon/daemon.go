package daemon

import (
	"context"
	"fmt"
	"net/http"
	"strings"

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
)

// daemon is a site put together.
type daemon struct {
	loop     *loop.Loop
	registry *prometheus.Registry
	api      *web.API
	live     *live.Site
	post     *post
}

// newDaemon puts together what keeps a site: first the loop, then what it tells of
// its turns. Nothing turns yet.
func newDaemon(k kept, m machine, manager *serviceManager, j *journal) (*daemon, error) {
	guard, c, setup, err := k.core(m.clock.Now(), m.boot)
	if err != nil {
		return nil, err
	}
	d := &daemon{registry: prometheus.NewRegistry()}
	d.loop = loop.New(loop.Parts{
		Clock: m.clock, Board: m.board, Guard: guard, Controller: c, Limits: setup.Limits, Names: rehearse.Names(k.site), Publish: true,
		Ledger: k.ledger, Heartbeat: heartbeat, Boot: m.boot, DeadMan: m.deadMan,
	})
	k.ledger.OnAcknowledged(d.loop.Wake)
	for _, found := range k.news() {
		c.Tell(found)
	}
	watch := d.newWatch(&k, m)
	d.openPost(&k, m)
	d.openSite(&k, watch.Rebaseline)
	d.loop.Sinks = append([]loop.Sink{
		d.newCollector(&k, m), j, d.post.dispatcher, watch, &managerSink{manager: manager},
		&storageWatch{stats: k.ledger.Stats, tell: d.tell}, d.live,
	}, m.sinks...)
	d.loop.Alive = both(both(manager.Alive, m.alive), d.post.Alive)
	d.post.begin()
	return d, nil
}

// tell has a person told, from within a turn: the next one tells.
func (d *daemon) tell(m controller.Message) {
	d.loop.Controller.Tell(m)
	d.loop.Wake()
}

// news is what a person has to know of what the daemon goes on from, in one
// message where it has one cause, since one cause is one alarm.
func (k *kept) news() (all []controller.Message) {
	if len(k.found) > 0 {
		all = append(all, controller.Message{Urgency: controller.Urgent, Bench: -1, Cause: "record", Text: strings.Join(k.found, " ")})
	}
	if k.notInForce != nil {
		all = append(all, notInForce(k.notInForce))
	}
	return all
}

// newCollector counts what the loop does, for /metrics.
func (d *daemon) newCollector(k *kept, m machine) *metrics.Collector {
	collector := metrics.New(metrics.Site{
		Limits: d.loop.Limits, Batches: d.loop.Names.Batches, Build: cli.Build(), Mono: m.mono, LedgerErrors: k.errors, Snapshot: d.loop.Snapshot,
	})
	d.registry.MustRegister(collector, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return collector
}

// newWatch looks for what changes slowly, from the floods on record on.
func (d *daemon) newWatch(k *kept, m machine) *drift.Watch {
	watch := drift.NewWatch(rehearse.Drift(k.site), k.site.Zone, func(_ drift.Finding, found controller.Message) { d.tell(found) })
	if err := remember(context.Background(), watch, k, m.clock.Now().Wall); err != nil {
		d.loop.Controller.Tell(controller.Message{Urgency: controller.ThisWeek, Bench: -1, Cause: "drift",
			Text: fmt.Sprintf("How long floods took before cannot be read (%v): slow changes of the benches are found only after some weeks. Look at the storage.", err)})
	}
	return watch
}

// openPost opens the channels by which people are told.
func (d *daemon) openPost(k *kept, m machine) {
	var found []controller.Message
	d.post, found = newPost(k, m, d.loop)
	for _, message := range found {
		d.loop.Controller.Tell(message)
	}
	d.registry.MustRegister(notify.NewCollector(d.post.dispatcher, d.post.heart))
}

// openSite has the site seen from outside, and acted on.
func (d *daemon) openSite(k *kept, rebaseline func(bench int)) {
	o := live.Options{
		Site: k.site, Names: d.loop.Names, Ledger: k.ledger, Dir: k.dir, Kept: k.lasting() != "", Dispatcher: d.post.dispatcher,
		Checked: k.checked, Rebaseline: rebaseline,
	}
	if d.post.heart != nil {
		o.Heart = d.post.heart
	}
	d.live = live.New(o)
	d.live.Follow(d.loop)
	d.api = web.New(web.Options{
		Site: d.live, Record: d.live.Record(), Messages: d.live.Messages(), Zone: k.site.Zone,
		Facts: live.FactsOf(k.site, cli.Build().Version),
	})
	d.live.PublishTo(d.api.Publish)
	d.registry.MustRegister(supplyCollector{d.live})
}

// close ends what goes on beside the loop, once that has ended.
func (d *daemon) close() {
	d.api.Close()
	d.post.close()
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

// both is a then b, which may be missing.
func both(a, b func()) func() {
	if b == nil {
		return a
	}
	return func() { a(); b() }
}
