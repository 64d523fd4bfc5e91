package live

import (
	"context"
	"time"

	"benchtide/controller"
	"benchtide/controller/grow"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// topUps says of each reservoir whether it may be topped up now.
func (s *Site) topUps(st *Status) {
	now := controller.Instant(st.At)
	for i := range st.Reservoirs {
		var flooded []string
		next := time.Duration(-1)
		for b, bench := range s.o.Site.Benches {
			shown := &st.Benches[b]
			if bench.Reservoir != i {
				continue
			}
			if shown.Water == "standing" || shown.Flood != nil {
				flooded = append(flooded, s.names.Titles.Bench(shown.Name))
			}
			if p := shown.Next; p != nil && shown.PausedUntil == nil {
				if wait := max(0, controller.Instant(p.Due).Sub(now)); next < 0 || wait < next {
					next = wait
				}
			}
		}
		ok, words := grow.TopUpNow(flooded, next)
		st.Reservoirs[i].TopUp = TopUp{OK: ok, Words: words}
	}
}

// lastsOver are the days that the page asks for, so that both share the outlook.
const lastsOver = 3

// Lasts is for how many days each reservoir can make floods, from what it was
// weighed to hold or, where nothing weighs it, its last top-up in the diary, and by
// what plants use on normal days; infinite when they use nothing. Those of which
// neither is known are left out.
func (s *Site) Lasts(ctx context.Context) map[string]float64 {
	p, err := s.fresh(ctx)
	if err != nil {
		return nil
	}
	now := p.Status.Now.Wall
	o, err := s.outlook(ctx, schedule.CivilIn(now, s.names.Zone).Date(), lastsOver, now)
	if err != nil || o.Learned == nil {
		return nil
	}
	lasts := map[string]float64{}
	for i, r := range o.Site.Reservoirs {
		daily := demand.Litres(o.Stocks[i].Daily[grow.Normal])
		left, known := demand.Litres(p.Status.Reservoirs[i].Litres), p.Status.Reservoirs[i].Basis != controller.Unknown
		if !known {
			left, known = grow.Left(o.Learned.Diaries[i], demand.Litres(r.Usable), daily, now)
		}
		if !known {
			continue
		}
		if d, err := o.DaysLeft(i, left, 0); err == nil {
			lasts[r.Name] = d.Days
		}
	}
	return lasts
}
