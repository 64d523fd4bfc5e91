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

	// Status fills in the picture of the site. It is called in the turn.
	Status func(*controller.Status)
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

	mu      sync.Mutex // over all below
	outputs []output
	status  controller.Status // after the latest turn
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
		status: controller.Status{
			Benches:    make([]controller.BenchStatus, len(s.Limits.Benches)),
			Batches:    make([]controller.BatchStatus, len(s.Batches)),
			Reservoirs: make([]controller.ReservoirStatus, len(s.Limits.Reservoirs)),
		},
	}
}

// Turn counts what happened and takes the picture of the site.
func (c *Collector) Turn(t *loop.Turn) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.counted.delay.Observe(t.Delay.Seconds())
	for i := range t.Events {
		c.event(&t.Events[i])
	}
	c.site.Status(&c.status)
}

func (c *Collector) event(e *controller.Event) {
	switch e.Kind {
	case controller.OutputChanged:
		c.outputs[e.Output].change(e.On, e.At.Mono)
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

// Describe lists everything that Collect can give.
func (c *Collector) Describe(ch chan<- *prometheus.Desc) {
	c.counted.Describe(ch)
	for _, d := range pictured {
		ch <- d
	}
}

// Collect gives the counts and the picture after the latest turn.
func (c *Collector) Collect(ch chan<- prometheus.Metric) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.counted.Collect(ch)
	c.collectPicture(ch)
}
