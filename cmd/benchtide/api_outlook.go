package main

import (
	"context"
	"math"
	"sync"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/web"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// outlooks works outlooks out for the API, each once a while: many look at the
// same, and it takes some milliseconds.
type outlooks struct {
	mu   sync.Mutex
	last *outlook
	at   time.Time // in real time
}

// outlookFor is how long an outlook serves.
const outlookFor = 30 * time.Second

func (l *outlooks) of(site *config.Site, from schedule.Date, days int) (*outlook, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.last != nil && l.last.from == from && l.last.days == days && time.Since(l.at) < outlookFor {
		return l.last, nil
	}
	o, err := outlookOf(site, from, days)
	if err != nil {
		return nil, err
	}
	l.last, l.at = o, time.Now()
	return o, nil
}

// forget has the next one worked out anew.
func (l *outlooks) forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.last = nil
}

// Outlook sets what plants will need beside what is in the reservoirs.
func (s *liveSite) Outlook(ctx context.Context, from schedule.Date, days int) (web.Outlook, error) {
	o, err := s.outlooks.of(s.present(), from, days)
	if err != nil {
		return web.Outlook{}, err
	}
	st, err := s.Status(ctx)
	if err != nil {
		return web.Outlook{}, err
	}
	shown := web.Outlook{
		From: from.String(), Days: days, Plants: []web.Plants{}, Supplies: []web.Supply{}, Assumed: append([]string{}, o.assumed...),
	}
	for i := range o.batches {
		shown.Plants = append(shown.Plants, o.plants(&o.batches[i]))
	}
	for i := range o.stocks {
		shown.Supplies = append(shown.Supplies, o.supply(i, st.Reservoirs[i].Litres))
	}
	return shown, nil
}

func (o *outlook) plants(p *batchOutlook) web.Plants {
	b := o.site.Batches[p.Batch]
	shown := web.Plants{
		Batch: b.Name, Bench: o.site.Benches[b.Bench].Name, AgeDays: int(p.From - b.Transplanted),
		HoldsL: thousandth(float64(p.Holds)), Limit: thousandth(p.Limit), Advice: []string{},
	}
	for k, c := range p.Courses {
		course := web.Course{
			Weather: c.Kind.String(), Water: [][2]float64{}, Lowest: thousandth(c.Lowest), DailyL: hundredth(float64(p.Needs[k].Litres)),
		}
		for _, q := range c.Points {
			hours := float64(q.At-p.From.At(0)) / time.Hour.Seconds()
			course.Water = append(course.Water, [2]float64{hundredth(hours), thousandth(q.Share)})
		}
		shown.Courses = append(shown.Courses, course)
	}
	for _, a := range p.advice {
		shown.Advice = append(shown.Advice, a.Words)
	}
	return shown
}

func (o *outlook) supply(reservoir int, litres float64) web.Supply {
	s, r := o.stocks[reservoir], o.site.Reservoirs[reservoir]
	least := reserve(o.site, reservoir)
	now, hot := grow.Lasts(demand.Litres(litres), least, demand.Litres(s.daily[grow.Normal]), demand.Litres(s.daily[grow.Hottest]))
	return web.Supply{
		Reservoir: r.Name, DailyL: hundredth(s.daily[grow.Normal]), HottestL: hundredth(s.daily[grow.Hottest]),
		Days: finite(now), DaysHottest: finite(hot), FullDays: finite(s.lasts[grow.Normal]),
		Words: "worked out from the climate of the file and from what is planted",
	}
}

func hundredth(v float64) float64 { return math.Round(v*100) / 100 }

// topUps says of each reservoir whether it may be topped up now.
func (s *liveSite) topUps(st *web.Status) {
	now := instant(st.At)
	for i := range st.Reservoirs {
		var flooded []string
		next := time.Duration(-1)
		for b, bench := range s.site.Benches {
			shown := &st.Benches[b]
			if bench.Reservoir != i {
				continue
			}
			if shown.Water == "standing" || shown.Flood != nil {
				flooded = append(flooded, shown.Name)
			}
			if p := shown.Next; p != nil && shown.PausedUntil == nil {
				if wait := max(0, instant(p.Due).Sub(now)); next < 0 || wait < next {
					next = wait
				}
			}
		}
		ok, words := grow.TopUpNow(flooded, next)
		st.Reservoirs[i].TopUp = web.TopUp{OK: ok, Words: words}
	}
}
