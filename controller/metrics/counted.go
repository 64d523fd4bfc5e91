package metrics

import (
	"github.com/prometheus/client_golang/prometheus"

	"benchtide/controller"
	"benchtide/safety"
)

// Buckets of the histograms, in seconds. A table fills in a few minutes and
// falls below FULL a little faster; the interlocks bound both at half as much
// again. A turn is late by a millisecond on an idle board, by 20 ms on a busy
// one, by more than 1 s on one that has stalled.
var (
	fillBuckets  = []float64{30, 60, 90, 120, 150, 180, 210, 240, 270, 300, 360, 420, 480, 600, 900, 1800}
	fallBuckets  = []float64{15, 30, 45, 60, 75, 90, 105, 120, 150, 180, 240, 300, 420, 600, 900}
	delayBuckets = []float64{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10}
)

// noBench is the bench label of what concerns the site or a reservoir.
const noBench = ""

// counted are the metrics that add up events.
type counted struct {
	names  []string // of the benches
	starts []prometheus.Counter
	all    []prometheus.Collector

	floods *prometheus.CounterVec
	trips  *prometheus.CounterVec
	fill   *prometheus.HistogramVec
	fall   *prometheus.HistogramVec
	delay  prometheus.Histogram
}

func newCounted(s Site) counted {
	c := counted{
		floods: counterVec("floods_total", "Floods that ended, by outcome.", "bench", "outcome"),
		trips:  counterVec("trips_total", "Times an interlock acted; without a bench those of the site and its reservoirs.", "bench", "interlock"),
		fill:   histogramVec("fill_duration_seconds", "Pump start to FULL made.", fillBuckets, "bench"),
		fall:   histogramVec("fall_duration_seconds", "Pump stop to FULL clear.", fallBuckets, "bench"),
		delay: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: prefix + "loop_delay_seconds", Help: "How much later than planned a turn of the loop came.", Buckets: delayBuckets,
		}),
	}
	starts := counterVec("output_starts_total", "Times an output was commanded on.", "output")
	for _, o := range s.Limits.Outputs {
		c.starts = append(c.starts, starts.WithLabelValues(o.Name))
	}
	c.all = []prometheus.Collector{starts, c.floods, c.trips, c.fill, c.fall, c.delay}
	for _, b := range s.Limits.Benches {
		c.names = append(c.names, b.Name)
		c.begin(b.Name)
	}
	c.beginTrips(noBench)
	return c
}

// begin puts every label set of a bench at 0.
func (c *counted) begin(bench string) {
	for _, o := range controller.Outcomes {
		c.floods.WithLabelValues(bench, string(o))
	}
	c.fill.WithLabelValues(bench)
	c.fall.WithLabelValues(bench)
	c.beginTrips(bench)
}

func (c *counted) beginTrips(bench string) {
	for _, i := range safety.Interlocks {
		c.trips.WithLabelValues(bench, string(i))
	}
}

func (c *counted) flood(f *controller.Flood) {
	bench := c.names[f.Bench]
	c.floods.WithLabelValues(bench, string(f.Outcome)).Inc()
	if f.Fill > 0 {
		c.fill.WithLabelValues(bench).Observe(f.Fill.Seconds())
	}
	if f.Fall > 0 {
		c.fall.WithLabelValues(bench).Observe(f.Fall.Seconds())
	}
}

func (c *counted) trip(bench int, i safety.Interlock) {
	name := noBench
	if bench >= 0 {
		name = c.names[bench]
	}
	c.trips.WithLabelValues(name, string(i)).Inc()
}

func (c *counted) Describe(ch chan<- *prometheus.Desc) {
	for _, m := range c.all {
		m.Describe(ch)
	}
}

func (c *counted) Collect(ch chan<- prometheus.Metric) {
	for _, m := range c.all {
		m.Collect(ch)
	}
}

const prefix = "benchtide_"

func counterVec(name, help string, labels ...string) *prometheus.CounterVec {
	return prometheus.NewCounterVec(prometheus.CounterOpts{Name: prefix + name, Help: help}, labels)
}

func histogramVec(name, help string, buckets []float64, labels ...string) *prometheus.HistogramVec {
	return prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: prefix + name, Help: help, Buckets: buckets}, labels)
}
