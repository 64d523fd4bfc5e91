package outlook

import (
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Outlook is what plants need over some days beside what is planned for them.
type Outlook struct {
	Site      *config.Site
	Grow      *grow.Site // the same as advice on its plants knows it
	From      schedule.Date
	Days      int
	Assumed   []string // for want of something in the file
	Batches   []Batch
	Stocks    []Stock // by reservoir
	Conflicts []schedule.Conflict
	Learned   *Learned // nil without a record
}

// Batch is one that stands on its bench on one of the days.
type Batch struct {
	grow.Forecast
	Advice []grow.Advice
	Stages []grow.StageNeed
}

// Stock is a reservoir and what the batches on it use a day.
type Stock struct {
	Daily, Lasts [len(grow.Kinds)]float64 // L; days
	Mean         grow.Daily               // of the days of the outlook, with its span
	use          grow.Use
}

// Of works the outlook out; with a record it reckons with what plants
// really use.
func Of(site *config.Site, from schedule.Date, days int, r *grow.Record) (*Outlook, error) {
	g, assumed, err := Site(site)
	if err != nil {
		return nil, err
	}
	o := &Outlook{Site: site, Grow: g, From: from, Days: days, Assumed: assumed}
	if o.Conflicts, err = site.Conflicts(from, from.AddDays(days-1)); err != nil {
		return nil, err
	}
	if r != nil {
		if err := o.learn(r); err != nil {
			return nil, err
		}
	}
	for i := range site.Batches {
		p, stands, err := g.Forecast(i, from, days)
		if err != nil {
			return nil, err
		}
		if !stands {
			continue
		}
		advice, err := g.Advise(i, from, days)
		if err != nil {
			return nil, err
		}
		stages, err := g.StageNeeds(i)
		if err != nil {
			return nil, err
		}
		o.Batches = append(o.Batches, Batch{p, advice, stages})
	}
	for i := range site.Reservoirs {
		s, err := o.stock(i)
		if err != nil {
			return nil, err
		}
		o.Stocks = append(o.Stocks, s)
	}
	return o, nil
}

func (o *Outlook) stock(reservoir int) (s Stock, err error) {
	r := o.Site.Reservoirs[reservoir]
	use := grow.Use{Scale: 1}
	if o.Learned != nil {
		use = o.Learned.Uses[reservoir]
	}
	s.use = use
	if s.Mean, err = o.Grow.Daily(batchesOn(o.Site, reservoir), use, o.From, o.Days); err != nil {
		return s, err
	}
	for _, b := range o.Batches {
		if o.Site.Benches[o.Site.Batches[b.Batch].Bench].Reservoir != reservoir {
			continue
		}
		for k := range grow.Kinds {
			s.Daily[k] += float64(b.Needs[k].Litres)
		}
	}
	for k := range grow.Kinds {
		s.Lasts[k] = demand.ReservoirDays(demand.Litres(r.Usable), Reserve(o.Site, reservoir), demand.Litres(s.Daily[k]))
	}
	return s, nil
}

// DaysLeft is how long a reservoir lasts that holds litres, give or take so many, on the
// first day of the outlook.
func (o *Outlook) DaysLeft(reservoir int, litres, give demand.Litres) (grow.DaysLeft, error) {
	return o.Grow.DaysLeft(batchesOn(o.Site, reservoir), o.Stocks[reservoir].use, o.From, litres, give, Reserve(o.Site, reservoir))
}

// Fits reports whether every batch gets what it needs.
func (o *Outlook) Fits() bool {
	for _, b := range o.Batches {
		for _, a := range b.Advice {
			if a.Verdict != grow.Fits && a.Verdict != grow.Often {
				return false
			}
		}
	}
	return true
}
