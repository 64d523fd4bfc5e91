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

// of is the outlook from a day on. The record is left out while storage cannot
// be read, as the status tells.
func (l *outlooks) of(ctx context.Context, site *config.Site, from schedule.Date, days int, record func() (*grow.Record, error)) (*outlook, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.last != nil && l.last.from == from && l.last.days == days && time.Since(l.at) < outlookFor {
		return l.last, nil
	}
	r, err := record()
	switch {
	case ctx.Err() != nil: // that record is of nobody who waits, and not for those who ask next
		return nil, ctx.Err()
	case err != nil:
		r = nil
	}
	o, err := outlookOf(site, from, days, r)
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
	st, err := s.Status(ctx)
	if err != nil {
		return web.Outlook{}, err
	}
	o, err := s.outlooks.of(ctx, s.present(), from, days, func() (*grow.Record, error) { return s.grown(ctx, instant(st.At)) })
	if err != nil {
		return web.Outlook{}, err
	}
	shown := web.Outlook{
		From: from.String(), Days: days, Plants: []web.Plants{}, Supplies: []web.Supply{}, Assumed: append([]string{}, o.assumed...),
		Proposals: []web.Proposal{}, Questions: []web.Question{},
	}
	for i := range o.batches {
		shown.Plants = append(shown.Plants, o.plants(&o.batches[i]))
	}
	for i := range o.stocks {
		shown.Supplies = append(shown.Supplies, o.supply(i, st.Reservoirs[i].Litres))
	}
	if o.learned != nil {
		o.show(&shown)
	}
	return shown, nil
}

func (o *outlook) plants(p *batchOutlook) web.Plants {
	b := o.site.Batches[p.Batch]
	shown := web.Plants{
		Batch: b.Name, Bench: o.site.Benches[b.Bench].Name, AgeDays: int(p.From - b.Transplanted),
		HoldsL: thousandth(float64(p.Holds)), Limit: thousandth(p.Limit), Advice: []string{}, Ages: []web.Cohort{},
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
	atLeast := r.Low != nil
	words := "worked out from the climate of the file and from what is planted"
	if k := o.learned; k != nil {
		words += "; " + k.uses[reservoir].Words
		if left, ok := grow.Left(k.diaries[reservoir], demand.Litres(r.Usable), demand.Litres(s.daily[grow.Normal]), k.now); ok && float64(left) > litres {
			atLeast = false
			litres, words = float64(left), words+"; it lasts from its last top-up in the diary, to the mark"
		}
	}
	least := reserve(o.site, reservoir)
	now, hot := grow.Lasts(demand.Litres(litres), least, demand.Litres(s.daily[grow.Normal]), demand.Litres(s.daily[grow.Hottest]))
	shown := web.Supply{
		Reservoir: r.Name, DailyL: hundredth(s.daily[grow.Normal]), HottestL: hundredth(s.daily[grow.Hottest]),
		Days: finite(now), DaysHottest: finite(hot), FullDays: finite(s.lasts[grow.Normal]), AtLeast: atLeast,
		Words: words,
	}
	if o.learned != nil {
		use := o.learned.uses[reservoir]
		shown.ToppedUpL, shown.Suspect = hundredth(o.learned.daily[reservoir]), use.Wrong
		shown.Solution = solutionShown(&o.learned.solutions[reservoir])
	}
	return shown
}

func solutionShown(s *grow.Solution) *web.Solution {
	shown := &web.Solution{Known: !s.Since.IsZero(), Days: hundredth(s.Days), Turnover: thousandth(s.Turnover), Drift: thousandth(s.Drift), Reasons: append([]string{}, s.Reasons...)}
	if s.EC > 0 {
		ec := float64(s.EC)
		shown.EC = &ec
	}
	return shown
}

// show adds what the record tells.
func (o *outlook) show(shown *web.Outlook) {
	for i := range shown.Plants {
		p := &shown.Plants[i]
		k := o.learned.stands[o.batches[i].Batch]
		p.Pots, p.Lost, p.MovedOut = k.Standing(), k.Lost, k.MovedOut
		for _, c := range k.Cohorts {
			p.Ages = append(p.Ages, web.Cohort{Since: schedule.CivilIn(c.Since, o.site.Zone).Date().String(), Pots: c.Pots})
		}
	}
	for _, p := range o.learned.proposals {
		b := o.site.Batches[p.Batch]
		shown.Proposals = append(shown.Proposals, web.Proposal{
			Batch: b.Name, FromDay: o.site.Plans[b.Plan].Stages[p.Stage].FromDay, Words: o.proposal(p),
		})
	}
	for _, q := range o.learned.questions {
		shown.Questions = append(shown.Questions, web.Question{Bench: o.site.Benches[q.Bench].Name, Words: q.Text})
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
