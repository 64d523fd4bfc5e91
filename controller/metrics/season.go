package metrics

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"

	"benchtide/controller/loop"
)

// Season keeps what scrapes at regular times of a season that was rehearsed
// would have read. It is for one goroutine.
type Season struct {
	collector *Collector
	registry  *prometheus.Registry
	every     time.Duration
	snapshot  *loop.Snapshot

	mono  time.Duration // boot-time clock that the scrape reads
	turn  time.Duration // the same at the latest turn
	at    time.Time     // of the latest turn
	times []time.Time

	families []*family
	named    map[string]*family
}

// family is what was read of one metric, its series in the order of their labels.
type family struct {
	of     *dto.MetricFamily
	series []*line
	keyed  map[string]*line
}

// line is one series: its name and labels as written, and a value at each time
// from the one of number first on.
type line struct {
	text   string
	first  int
	values []float64
}

// NewSeason keeps a scrape of a site at the first turn and every so often from
// there. Snapshot and Mono of the site are the season's own.
func NewSeason(s Site, every time.Duration) (*Season, error) {
	k := &Season{registry: prometheus.NewRegistry(), every: every, named: map[string]*family{}}
	s.Mono = func() time.Duration { return k.mono }
	s.Snapshot = func() *loop.Snapshot { return k.snapshot }
	k.collector = New(s)
	return k, k.registry.Register(k.collector)
}

// Turn takes a turn at a time, after the scrapes that came before it.
func (k *Season) Turn(at time.Time, t *loop.Turn) error {
	for len(k.times) > 0 {
		next := k.times[len(k.times)-1].Add(k.every)
		if !next.Before(at) {
			break
		}
		if err := k.scrape(next); err != nil {
			return err
		}
	}
	if t.Snapshot != nil {
		k.snapshot = t.Snapshot.Keep()
	}
	k.collector.Turn(t)
	k.at, k.turn = at, t.Now.Mono
	if len(k.times) == 0 {
		return k.scrape(at.Truncate(time.Second))
	}
	return nil
}

// scrape reads everything as of a time at or after the latest turn.
func (k *Season) scrape(at time.Time) error {
	k.mono = k.turn + max(0, at.Sub(k.at))
	found, err := k.registry.Gather()
	if err != nil {
		return err
	}
	k.times = append(k.times, at)
	for _, f := range found {
		k.family(f).read(f, len(k.times)-1)
	}
	return nil
}

func (k *Season) family(of *dto.MetricFamily) *family {
	f := k.named[of.GetName()]
	if f == nil {
		f = &family{of: &dto.MetricFamily{Name: of.Name, Help: of.Help, Type: of.Type}, keyed: map[string]*line{}}
		k.named[of.GetName()] = f
		k.families = append(k.families, f)
	}
	return f
}

func (f *family) read(now *dto.MetricFamily, n int) {
	name := now.GetName()
	for _, m := range now.Metric {
		switch now.GetType() {
		case dto.MetricType_HISTOGRAM:
			h := m.Histogram
			bounded := false
			for _, b := range h.Bucket {
				bounded = bounded || math.IsInf(b.GetUpperBound(), 1)
				f.add(name+"_bucket", m, number64(b.GetUpperBound()), float64(b.GetCumulativeCount()), n)
			}
			if !bounded {
				f.add(name+"_bucket", m, "+Inf", float64(h.GetSampleCount()), n)
			}
			f.add(name+"_sum", m, "", h.GetSampleSum(), n)
			f.add(name+"_count", m, "", float64(h.GetSampleCount()), n)
		case dto.MetricType_COUNTER:
			f.add(name, m, "", m.Counter.GetValue(), n)
		default:
			f.add(name, m, "", m.Gauge.GetValue(), n)
		}
	}
}

// add keeps the n-th value of a series; le is the bound of a bucket.
func (f *family) add(name string, m *dto.Metric, le string, value float64, n int) {
	var labels []string
	for _, l := range m.Label {
		labels = append(labels, l.GetName()+`="`+escape.Replace(l.GetValue())+`"`)
	}
	if le != "" {
		labels = append(labels, `le="`+le+`"`)
	}
	text := name
	if len(labels) > 0 {
		text += "{" + strings.Join(labels, ",") + "}"
	}
	l := f.keyed[text]
	if l == nil {
		l = &line{text: text, first: n}
		f.keyed[text] = l
		f.series = append(f.series, l)
	}
	l.values = append(l.values, value)
}

var escape = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)

func number64(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// WriteOpenMetrics writes all scrapes with their times, as Prometheus takes them
// up: promtool tsdb create-blocks-from openmetrics.
//
// Source: OpenMetrics 1.0, text format.
func (k *Season) WriteOpenMetrics(to io.Writer) error {
	w := bufio.NewWriterSize(to, 1<<16)
	for _, f := range k.families {
		name, kind := f.of.GetName(), strings.ToLower(f.of.GetType().String())
		if kind == "counter" {
			name = strings.TrimSuffix(name, "_total")
		}
		fmt.Fprintf(w, "# HELP %s %s\n# TYPE %s %s\n", name, escape.Replace(f.of.GetHelp()), name, kind)
		for _, l := range f.series {
			for i, v := range l.values {
				_, _ = w.WriteString(l.text + " " + number64(v) + " " + strconv.FormatInt(k.times[l.first+i].Unix(), 10) + "\n")
			}
		}
	}
	_, _ = w.WriteString("# EOF\n") // Flush tells of what failed
	return w.Flush()
}
