package live

import (
	"cmp"
	"context"
	"sync/atomic"
	"time"

	"benchtide/controller"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/quantity"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// outlooks works outlooks out, each once a while: many look at the same, and it
// takes some milliseconds. One is worked out at a time, for whoever asked first;
// the others wait for it, or leave. What was worked out is published by pointer,
// so that forgetting it waits for none of them.
type outlooks struct {
	last    atomic.Pointer[worked]
	changed atomic.Int64 // how often what they rest on has changed
	one     chan struct{}
}

// worked is an outlook and what it was worked out for.
type worked struct {
	*outlook.Outlook
	changed int64
	at      time.Time // in real time
}

// outlookFor is how long an outlook serves.
const outlookFor = 30 * time.Second

func newOutlooks() outlooks { return outlooks{one: make(chan struct{}, 1)} }

// of is the outlook from a day on. work has to look at everything that an
// outlook rests on anew.
func (l *outlooks) of(ctx context.Context, from schedule.Date, days int, work func() (*outlook.Outlook, error)) (*outlook.Outlook, error) {
	if o := l.known(from, days); o != nil {
		return o, nil
	}
	select {
	case l.one <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-l.one }()
	if o := l.known(from, days); o != nil {
		return o, nil
	}
	changed := l.changed.Load()
	o, err := work()
	if err == nil {
		l.last.Store(&worked{o, changed, time.Now()})
	}
	return o, err
}

// known is the one worked out last, if it serves.
func (l *outlooks) known(from schedule.Date, days int) *outlook.Outlook {
	w := l.last.Load()
	if w == nil || w.From != from || w.Days != days || w.changed != l.changed.Load() || time.Since(w.at) >= outlookFor {
		return nil
	}
	return w.Outlook
}

// forget has the next one worked out anew.
func (l *outlooks) forget() { l.changed.Add(1) }

// outlook is the outlook from a day on, as of now. The record is left out while
// storage cannot be read, as the status tells.
func (s *Site) outlook(ctx context.Context, from schedule.Date, days int, now time.Time) (*outlook.Outlook, error) {
	return s.outlooks.of(ctx, from, days, func() (*outlook.Outlook, error) {
		site := s.present()
		r, err := s.record.grown(ctx, now)
		switch {
		case ctx.Err() != nil: // that record is of nobody who waits, and not for those who ask next
			return nil, ctx.Err()
		case err != nil:
			r = nil
		}
		return outlook.Of(site, from, days, r)
	})
}

// Outlook sets what plants will need beside what is in the reservoirs.
func (s *Site) Outlook(ctx context.Context, from schedule.Date, days int) (Outlook, error) {
	p, err := s.fresh(ctx)
	if err != nil {
		return Outlook{}, err
	}
	o, err := s.outlook(ctx, from, days, p.Status.Now.Wall)
	if err != nil {
		return Outlook{}, err
	}
	shown := Outlook{
		Units: o.Site.Units, Titles: o.Site.Titles,
		From: from.String(), Days: days, Plants: []Plants{}, Supplies: []Supply{}, Assumed: append([]string{}, o.Assumed...),
		Proposals: []Proposal{}, Questions: []Question{},
	}
	for i := range o.Batches {
		shown.Plants = append(shown.Plants, plantsShown(o, &o.Batches[i]))
	}
	for i := range o.Stocks {
		supply, err := supplyShown(o, i, &p.Status.Reservoirs[i])
		if err != nil {
			return Outlook{}, err
		}
		shown.Supplies = append(shown.Supplies, supply)
	}
	if o.Learned != nil {
		showLearned(o, &shown)
	}
	return shown, nil
}

func plantsShown(o *outlook.Outlook, p *outlook.Batch) Plants {
	b := o.Site.Batches[p.Batch]
	shown := Plants{
		Batch: b.Name, Bench: o.Site.Benches[b.Bench].Name, AgeDays: int(p.From - b.Transplanted),
		HoldsL: quantity.Thousandth(float64(p.Holds)), Limit: quantity.Thousandth(p.Limit), Advice: []string{}, Ages: []Cohort{},
	}
	for k, c := range p.Courses {
		course := Course{
			Weather: c.Kind.String(), Water: [][2]float64{}, Lowest: quantity.Thousandth(c.Lowest), DailyL: quantity.Hundredth(float64(p.Needs[k].Litres)),
		}
		for _, q := range c.Points {
			hours := float64(q.At-p.From.At(0)) / time.Hour.Seconds()
			course.Water = append(course.Water, [2]float64{quantity.Hundredth(hours), quantity.Thousandth(q.Share)})
		}
		shown.Courses = append(shown.Courses, course)
	}
	for _, a := range p.Advice {
		shown.Advice = append(shown.Advice, a.Words)
	}
	return shown
}

func supplyShown(o *outlook.Outlook, reservoir int, st *controller.ReservoirStatus) (Supply, error) {
	s, r := o.Stocks[reservoir], o.Site.Reservoirs[reservoir]
	litres, known := quantity.Rounded(float64(st.Litres), 0.1), st.Basis != controller.Unknown
	atLeast := !known && r.Low != nil
	words := "worked out from the climate of the file and from what is planted"
	if k := o.Learned; k != nil {
		words += "; " + k.Uses[reservoir].Words
		if left, ok := grow.Left(k.Diaries[reservoir], demand.Litres(r.Usable), demand.Litres(s.Daily[grow.Normal]), k.Now); ok && !known && float64(left) > litres {
			atLeast = false
			litres, words = float64(left), words+"; it lasts from its last top-up in the diary, to the mark"
		}
	}
	if outlasts := grow.Outlasts(s.Lasts[grow.Normal]); outlasts != "" {
		words += "; filled to the mark it lasts " + outlasts
	}
	left, err := o.DaysLeft(reservoir, demand.Litres(litres), demand.Litres(st.Give)*nine)
	hot := demand.ReservoirDays(demand.Litres(litres), outlook.Reserve(o.Site, reservoir), demand.Litres(cmp.Or(s.Daily[grow.Hottest], s.Daily[grow.Normal])))
	shown := Supply{
		SpanL:     [2]float64{quantity.Hundredth(float64(s.Mean.Low)), quantity.Hundredth(float64(s.Mean.High))},
		SpanDays:  []*float64{quantity.Finite(left.Low), quantity.Finite(left.High)},
		Reservoir: r.Name, DailyL: quantity.Hundredth(s.Daily[grow.Normal]), HottestL: quantity.Hundredth(s.Daily[grow.Hottest]),
		Days: quantity.Finite(left.Days), DaysHottest: quantity.Finite(hot), FullDays: quantity.Finite(s.Lasts[grow.Normal]), AtLeast: atLeast,
		Words: words,
	}
	if litres <= 0 { // nobody weighed it: not known, and not none
		shown.Days, shown.DaysHottest, shown.SpanDays = nil, nil, []*float64{}
	}
	if o.Learned != nil {
		use := o.Learned.Uses[reservoir]
		shown.ToppedUpL, shown.Suspect = quantity.Hundredth(o.Learned.Daily[reservoir]), use.Wrong
		shown.Solution = solutionShown(&o.Learned.Solutions[reservoir])
	}
	return shown, err
}

// nine is how much narrower the span of 9 in 10 is than that of 19 in 20, by the
// normal curve.
const nine = 1.644854 / 1.959964

func solutionShown(s *grow.Solution) *Solution {
	shown := &Solution{Known: !s.Since.IsZero(), Days: quantity.Hundredth(s.Days), Turnover: quantity.Thousandth(s.Turnover), Drift: quantity.Thousandth(s.Drift), Reasons: append([]string{}, s.Reasons...)}
	if s.EC > 0 {
		ec := float64(s.EC)
		shown.EC = &ec
	}
	return shown
}

// show adds what the record tells.
func showLearned(o *outlook.Outlook, shown *Outlook) {
	for i := range shown.Plants {
		p := &shown.Plants[i]
		k := o.Learned.Stands[o.Batches[i].Batch]
		p.Pots, p.Lost, p.MovedOut = k.Left(), k.Lost, k.MovedOut
		for _, c := range k.Cohorts {
			p.Ages = append(p.Ages, Cohort{Since: schedule.CivilIn(c.Since, o.Site.Zone).Date().String(), Pots: c.Pots})
		}
	}
	for _, p := range o.Learned.Proposals {
		b := o.Site.Batches[p.Batch]
		shown.Proposals = append(shown.Proposals, Proposal{
			Batch: b.Name, FromDay: o.Site.Plans[b.Plan].Stages[p.Stage].FromDay, Words: o.Proposal(p),
		})
	}
	for _, q := range o.Learned.Questions {
		shown.Questions = append(shown.Questions, Question{Bench: o.Site.Benches[q.Bench].Name, Words: q.Text})
	}
}
