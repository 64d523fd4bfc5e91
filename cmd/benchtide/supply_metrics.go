package main

import (
	"context"
	"math"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"benchtide/controller/grow"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// supplyCollector shows how long each reservoir lasts, once the diary knows of
// a top-up. What switches prove is a lower bound that says nothing of days.
type supplyCollector struct{ site *liveSite }

var _ prometheus.Collector = supplyCollector{}

const (
	supplyWithin = time.Second // a scrape waits no longer for it
	supplyDays   = 3           // what the page asks for, so that both share the answer
)

var reservoirLasts = prometheus.NewDesc("benchtide_reservoir_lasts_seconds",
	"How long the reservoir can make floods, from its last top-up in the diary by what plants use on normal days; +Inf when they use nothing.",
	[]string{"reservoir"}, nil)

func (supplyCollector) Describe(ch chan<- *prometheus.Desc) { ch <- reservoirLasts }

// Collect gives no figure while there is none: an old one would look like news.
func (c supplyCollector) Collect(ch chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), supplyWithin)
	defer cancel()
	st, err := c.site.Status(ctx)
	if err != nil {
		return
	}
	site, now := c.site.present(), instant(st.At)
	today := schedule.CivilIn(now, site.Zone).Date()
	o, err := c.site.outlooks.of(ctx, site, today, supplyDays, func() (*grow.Record, error) { return c.site.grown(ctx, now) })
	if err != nil || o.learned == nil {
		return
	}
	for i, r := range site.Reservoirs {
		daily := demand.Litres(o.stocks[i].daily[grow.Normal])
		left, known := grow.Left(o.learned.diaries[i], demand.Litres(r.Usable), daily, now)
		if !known {
			continue
		}
		days := math.Inf(1)
		if daily > 0 {
			days, _ = grow.Lasts(left, reserve(site, i), daily, daily)
		}
		ch <- prometheus.MustNewConstMetric(reservoirLasts, prometheus.GaugeValue, days*24*time.Hour.Seconds(), r.Name)
	}
}
