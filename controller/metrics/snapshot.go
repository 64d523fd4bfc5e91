package metrics

import (
	"math"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"benchtide/controller"
	"benchtide/safety"
)

// The metrics that are read off the snapshot of the site at a scrape.
var (
	outputOn     = describe("output_on", "1 while the output is commanded on.", "output")
	outputRun    = describe("output_run_seconds_total", "How long the output was commanded on.", "output")
	lastProven   = describe("last_proven_flood_timestamp_seconds", "When the last proven flood ended, Unix time; 0 before the first.", "bench")
	nextFlood    = describe("next_flood_timestamp_seconds", "When the next flood is due, Unix time; 0 when none is planned.", "bench")
	cropClock    = describe("crop_clock_ratio", "Time since the last flood that counted over what the crop can stand.", "batch")
	switchActive = describe("switch_active", "1 while there is water at the switch, or the button is pressed.", "switch")
	switchFault  = describe("switch_fault", "1 while the switch cannot be read.", "switch")
	tripLatched  = describe("trip_latched", "1 while the trip waits for a person.", "bench", "interlock")
	litres       = describe("reservoir_litres", "What the reservoir holds with its tables empty, less what a flood under way took; what a made switch proves where nothing else is known, NaN where nothing is.", "reservoir")
	litresBasis  = describe("reservoir_litres_basis", "1 for what the litres of the reservoir rest on.", "reservoir", "basis")
	solution     = describe("solution_temperature_celsius", "The temperature of the solution; NaN while its thermometer cannot be believed.", "reservoir")
	clockTrusted = describe("clock_trusted", "1 while wall time is believed and floods follow the calendar.")
	ledgerErrors = describe("ledger_errors_total", "Writes that storage did not take.")
	buildInfo    = describe("build_info", "The program; always 1.", "version", "revision", "goversion")

	pictured = []*prometheus.Desc{
		outputOn, outputRun, lastProven, nextFlood, cropClock, switchActive, switchFault,
		tripLatched, litres, litresBasis, solution, clockTrusted, ledgerErrors, buildInfo,
	}
)

func describe(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc(prefix+name, help, labels, nil)
}

type metrics chan<- prometheus.Metric

func (ch metrics) gauge(d *prometheus.Desc, v float64, labels ...string) {
	ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
}

func (ch metrics) counter(d *prometheus.Desc, v float64, labels ...string) {
	ch <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, v, labels...)
}

// collectSnapshot gives the snapshot of the latest turn; before the first turn
// everything is 0.
func (c *Collector) collectSnapshot(to chan<- prometheus.Metric) {
	ch := metrics(to)
	c.collectOutputs(ch)
	st := &c.before
	if p := c.site.Snapshot(); p != nil {
		st = &p.Status
	}
	for i := range st.Benches {
		collectBench(ch, &c.site.Limits.Benches[i], &st.Benches[i])
	}
	for i := range st.Batches {
		ch.gauge(cropClock, st.Batches[i].Ratio, c.site.Batches[i])
	}
	for i := range st.Reservoirs {
		collectReservoir(ch, &c.site.Limits.Reservoirs[i], st.Reservoirs[i])
	}
	ch.gauge(switchActive, number(st.HandsIn), "hands_in")
	ch.gauge(clockTrusted, number(st.Calendar))
	ch.counter(ledgerErrors, c.ledgerErrors())
	b := c.site.Build
	ch.gauge(buildInfo, 1, b.Version, b.Revision, b.GoVersion)
}

func (c *Collector) ledgerErrors() float64 {
	if c.site.LedgerErrors == nil {
		return 0
	}
	return float64(c.site.LedgerErrors())
}

func (c *Collector) collectOutputs(ch metrics) {
	on, ran := c.totals(c.site.Mono())
	for i := range on {
		name := c.site.Limits.Outputs[i].Name
		ch.gauge(outputOn, number(on[i]), name)
		ch.counter(outputRun, ran[i].Seconds(), name)
	}
}

func (c *Collector) totals(now time.Duration) (on []bool, ran []time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i := range c.outputs {
		on, ran = append(on, c.outputs[i].on), append(ran, c.outputs[i].total(now))
	}
	return on, ran
}

func collectBench(ch metrics, l *safety.BenchLimits, st *controller.BenchStatus) {
	ch.gauge(lastProven, unix(st.LastProven), l.Name)
	var due time.Time
	if st.HasNext {
		due = st.Next.Due
	}
	ch.gauge(nextFlood, unix(due), l.Name)
	for _, s := range []struct {
		fitted bool
		place  string
		level  safety.Level
	}{{l.Full, "full", st.Full}, {l.High, "high", st.High}, {l.Empty, "empty", st.Empty}, {l.Leak, "leak", st.Leak}} {
		if s.fitted {
			collectSwitch(ch, l.Name+"."+s.place, s.level)
		}
	}
	for _, i := range safety.Interlocks {
		latched := slices.ContainsFunc(st.Latched, func(t safety.Trip) bool { return t.Interlock == i })
		ch.gauge(tripLatched, number(latched), l.Name, string(i))
	}
}

func collectReservoir(ch metrics, l *safety.ReservoirLimits, st controller.ReservoirStatus) {
	known := float64(st.Litres)
	if st.Basis == controller.Unknown && known == 0 {
		known = math.NaN()
	}
	ch.gauge(litres, known, l.Name)
	for _, b := range controller.Bases {
		ch.gauge(litresBasis, number(st.Basis == b), l.Name, string(b))
	}
	if l.Low {
		collectSwitch(ch, l.Name+".low", st.Low)
	}
	if l.Level {
		collectSwitch(ch, l.Name+".level", st.Level)
	}
	if l.Thermometer {
		ch.gauge(solution, temperature(st), l.Name)
	}
}

// temperature is NaN for one that is not known: a series that is there from the
// start, and no number that could be taken for one.
func temperature(st controller.ReservoirStatus) float64 {
	if !st.Believed {
		return math.NaN()
	}
	return float64(st.Temperature)
}

func collectSwitch(ch metrics, name string, l safety.Level) {
	ch.gauge(switchActive, number(l == safety.Wet), name)
	ch.gauge(switchFault, number(l == safety.Fault), name)
}

func number(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// unix is t in seconds; 0 for no time at all.
func unix(t time.Time) float64 {
	if t.IsZero() {
		return 0
	}
	return float64(t.UnixMilli()) / 1000
}
