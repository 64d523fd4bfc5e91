package metrics

import (
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// Site is what a Collector has to know of the site it shows.
type Site struct {
	Limits  safety.Limits
	Batches []string // names, in order of the file
	Build   Build

	// Snapshot is the site after the latest turn, nil before the first. It is
	// called at a scrape.
	Snapshot func() *loop.Snapshot
	// Mono reads the boot-time clock. It is called at a scrape.
	Mono func() time.Duration
	// LedgerErrors counts what storage did not take. It is called at a
	// scrape; nil when there is no storage.
	LedgerErrors func() uint64
}

// Build says which program this is.
type Build struct{ Version, Revision, GoVersion string }

// Collector is a loop.Sink and a prometheus.Collector. Turn is for the
// goroutine of the loop, the rest for any.
type Collector struct {
	site    Site
	counted counted

	before controller.Status // the first turn

	mu      sync.Mutex // over all below, for moments
	outputs []output
}

var (
	_ loop.Sink            = (*Collector)(nil)
	_ prometheus.Collector = (*Collector)(nil)
)

// New returns the collector of a site before its first turn.
func New(s Site) *Collector {
	return &Collector{
		site:    s,
		counted: newCounted(s),
		outputs: make([]output, len(s.Limits.Outputs)),
		before: controller.Status{
			Benches:    make([]controller.BenchStatus, len(s.Limits.Benches)),
			Batches:    make([]controller.BatchStatus, len(s.Batches)),
			Reservoirs: make([]controller.ReservoirStatus, len(s.Limits.Reservoirs)),
		},
	}
}

// Turn counts what happened.
func (c *Collector) Turn(t *loop.Turn) {
	c.counted.delay.Observe(t.Delay.Seconds())
	for i := range t.Events {
		c.event(&t.Events[i])
	}
}

func (c *Collector) event(e *controller.Event) {
	switch e.Kind {
	case controller.OutputChanged:
		c.change(e.Output, e.On, e.At.Mono)
		if e.On {
			c.counted.starts[e.Output].Inc()
		}
	case controller.FloodEnded:
		c.counted.flood(&e.Flood)
	case controller.GuardActed:
		if e.Guard.Kind == safety.Tripped && e.Guard.Interlock != safety.HandsIn {
			c.counted.trip(e.Guard.Bench, e.Guard.Interlock)
		}
	}
}

func (c *Collector) change(output int, on bool, at time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.outputs[output].change(on, at)
}

// Describe lists everything that Collect can give.
func (c *Collector) Describe(ch chan<- *prometheus.Desc) {
	c.counted.Describe(ch)
	for _, d := range pictured {
		ch <- d
	}
}

// Collect gives the counts and the snapshot after the latest turn.
func (c *Collector) Collect(ch chan<- prometheus.Metric) {
	c.counted.Collect(ch)
	c.collectSnapshot(ch)
}
