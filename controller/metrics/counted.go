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
	all     []prometheus.Collector
	starts  []prometheus.Counter
	delay   prometheus.Histogram
	benches []benchCounts
	site    map[safety.Interlock]prometheus.Counter // trips of the site and its reservoirs
}

// benchCounts are those of one bench. A turn has each at hand: by its labels it
// would wait for the lock of a scrape.
type benchCounts struct {
	floods     map[controller.Outcome]prometheus.Counter
	trips      map[safety.Interlock]prometheus.Counter
	fill, fall prometheus.Observer
}

func newCounted(s Site) counted {
	floods := counterVec("floods_total", "Floods that ended, by outcome.", "bench", "outcome")
	trips := counterVec("trips_total", "Times an interlock acted; without a bench those of the site and its reservoirs.", "bench", "interlock")
	fill := histogramVec("fill_duration_seconds", "Pump start to FULL made.", fillBuckets, "bench")
	fall := histogramVec("fall_duration_seconds", "Pump stop to FULL clear.", fallBuckets, "bench")
	starts := counterVec("output_starts_total", "Times an output was commanded on.", "output")
	c := counted{
		delay: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: prefix + "loop_delay_seconds", Help: "How much later than planned a turn of the loop came.", Buckets: delayBuckets,
		}),
		site: tripsOf(trips, noBench),
	}
	for _, o := range s.Limits.Outputs {
		c.starts = append(c.starts, starts.WithLabelValues(o.Name))
	}
	for _, b := range s.Limits.Benches {
		c.benches = append(c.benches, benchCounts{
			floods: floodsOf(floods, b.Name), trips: tripsOf(trips, b.Name), fill: fill.WithLabelValues(b.Name), fall: fall.WithLabelValues(b.Name),
		})
	}
	c.all = []prometheus.Collector{starts, floods, trips, fill, fall, c.delay}
	return c
}

func floodsOf(floods *prometheus.CounterVec, bench string) map[controller.Outcome]prometheus.Counter {
	all := map[controller.Outcome]prometheus.Counter{}
	for _, o := range controller.Outcomes {
		all[o] = floods.WithLabelValues(bench, string(o))
	}
	return all
}

func tripsOf(trips *prometheus.CounterVec, bench string) map[safety.Interlock]prometheus.Counter {
	all := map[safety.Interlock]prometheus.Counter{}
	for _, i := range safety.Interlocks {
		all[i] = trips.WithLabelValues(bench, string(i))
	}
	return all
}

// flood counts a flood that ended. A slot whose water came by another flood is
// none.
func (c *counted) flood(f *controller.Flood) {
	if f.StoodFor() {
		return
	}
	b := &c.benches[f.Bench]
	count(b.floods[f.Outcome])
	if f.Fill > 0 {
		b.fill.Observe(f.Fill.Seconds())
	}
	if f.Fall > 0 {
		b.fall.Observe(f.Fall.Seconds())
	}
}

func (c *counted) trip(bench int, i safety.Interlock) {
	if bench < 0 {
		count(c.site[i])
		return
	}
	count(c.benches[bench].trips[i])
}

// count leaves out what the program had no word for when it began.
func count(c prometheus.Counter) {
	if c != nil {
		c.Inc()
	}
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
