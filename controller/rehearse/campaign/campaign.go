package campaign

import (
	"context"
	"fmt"
	"math/rand/v2"

	"benchtide/controller/rehearse"
)

// Options say how long a campaign goes on.
type Options struct {
	Years   int    // bench-years: a year of a site with two benches counts as two; rounded up to whole sites
	Seed    uint64 // of everything that is left to chance
	Workers int    // sites lived on at the same time; 0 means one

	// Nature is what each month draws the benches from, other ones than the months
	// before and after; nil is the plain benches of the sites' files.
	Nature   *rehearse.Nature
	Progress func(done float64)
}

// shrunk is how many failed months are made smaller; those after it are only
// listed.
const shrunk = 5

// Run lives through a campaign and reports. The report depends on Years, Seed
// and Nature alone. The error is ctx's, or says which site could not be lived on.
func Run(ctx context.Context, o Options) (*Report, error) {
	rep := newReport(&o)
	err := InOrder(ctx, o.sites(), o.Workers, o.Progress, o.live, func(i int, l life) error {
		if l.err != nil {
			return fmt.Errorf("campaign: site %d of seed %d: %w", i, o.Seed, l.err)
		}
		return rep.add(ctx, &o, i, &l)
	})
	if err != nil {
		return nil, err
	}
	rep.finish()
	return rep, nil
}

// life is all that came to pass on a site.
type life struct {
	place  *DrawnSite
	months []*judgement
	err    error
}

// chanceOf is what site i of a campaign is drawn from.
func (o *Options) chanceOf(i int) *rand.Rand { return rand.New(rand.NewPCG(o.Seed, uint64(i))) }

// benchesOf draws how many benches a site has.
func benchesOf(r *rand.Rand) int { return pick(r, 1, 1, 1, 1, 2, 2, 3) }

// years is how often a site lives through its year, with other troubles each
// time: to draw one that holds together takes as long as half a year on it.
const years = 2

// sites is how many sites it takes to live so many bench-years.
func (o *Options) sites() (n int) {
	for lived := 0; lived < o.Years; n++ {
		lived += years * benchesOf(o.chanceOf(n))
	}
	return n
}

// live lives on site i.
func (o *Options) live(ctx context.Context, i int) (l life) {
	r := o.chanceOf(i)
	if l.place, l.err = drawSite(ctx, r, benchesOf(r)); l.err != nil {
		return l
	}
	for m := range years * months {
		s := drawMonth(r, l.place.Site, m%months)
		s.Nature = o.Nature
		var j *judgement
		if j, l.err = liveMonth(ctx, l.place, &s); l.err != nil {
			return l
		}
		l.months = append(l.months, j)
	}
	return l
}

// liveMonth lives through a month on a site and judges it.
func liveMonth(ctx context.Context, p *DrawnSite, s *rehearse.Scenario) (*judgement, error) {
	w := newObserver(p.Site)
	report, err := rehearse.Run(ctx, p.Site, *s, rehearse.Options{Each: w.each, Pipes: p.pipes, Draws: &p.draws, NoRows: true, NoDrift: true})
	if err != nil {
		return nil, err
	}
	j := &judgement{setting: setting{p.Site, s}, observer: w, report: report, start: s.From.At(0).In(p.Site.Zone)}
	if len(report.NotTimed) == 0 {
		j.judge()
	}
	return j, nil
}
