package daemon

import (
	"context"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"benchtide/controller/live"
)

// supplyCollector shows how long each reservoir lasts, once it is weighed or the
// diary knows of a top-up. What switches prove is a lower bound that says nothing of days.
type supplyCollector struct{ site *live.Site }

var _ prometheus.Collector = supplyCollector{}

const supplyWithin = time.Second // a scrape waits no longer for it

var reservoirLasts = prometheus.NewDesc("benchtide_reservoir_lasts_seconds",
	"How long the reservoir can make floods, by its weighings, or else its last top-up in the diary, and what plants use on normal days; +Inf when they use nothing.",
	[]string{"reservoir"}, nil)

func (supplyCollector) Describe(ch chan<- *prometheus.Desc) { ch <- reservoirLasts }

// Collect gives no figure while there is none: an old one would look like news.
func (c supplyCollector) Collect(ch chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), supplyWithin)
	defer cancel()
	for reservoir, days := range c.site.Lasts(ctx) {
		ch <- prometheus.MustNewConstMetric(reservoirLasts, prometheus.GaugeValue, days*24*time.Hour.Seconds(), reservoir)
	}
}
