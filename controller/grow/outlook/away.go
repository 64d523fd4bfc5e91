package outlook

import (
	"slices"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Away is the check of the days from one day until another with nobody there, as
// far as the file goes: what was rehearsed, confirmed and put on record is left to
// whoever asks. An error is that of a calendar or a demand that cannot be worked
// out.
func Away(site *config.Site, from, until schedule.Date) (*grow.Away, error) {
	g, _, err := Site(site)
	if err != nil {
		return nil, err
	}
	a := &grow.Away{Site: g, Zone: site.Zone, From: from, Until: until}
	for i, r := range site.Reservoirs {
		a.Reservoirs = append(a.Reservoirs, grow.AwayReservoir{
			Name: r.Name, Usable: demand.Litres(r.Usable), Reserve: Reserve(site, i), Low: r.Low != nil,
		})
	}
	for i, b := range site.Benches {
		sheet := site.Sheet(i)
		a.Benches = append(a.Benches, grow.AwayBench{Name: b.Name, Reservoir: b.Reservoir, Fill: sheet.Fill, Fall: sheet.Fall, High: b.High != nil})
	}
	return a, nil
}

// Said is what people have said of a batch of a running site.
type Said struct {
	Batch   string
	Closed  schedule.Date // its last day; 0 when none was said
	FromDay int           // of the stage that it is in
	Stands  bool          // it is in a stage
}

// AsOf puts what people have said into a site's file; of stages what batches are
// in today. Batches that the file does not know are left out.
func AsOf(site *config.Site, today schedule.Date, said []Said) {
	for _, k := range said {
		i := slices.IndexFunc(site.Batches, func(b config.Batch) bool { return b.Name == k.Batch })
		if i < 0 {
			continue
		}
		b := &site.Batches[i]
		if k.Closed != 0 {
			b.Closed = k.Closed
		}
		if k.Stands {
			enter(b, site.Plans[b.Plan], k.FromDay, today)
		}
	}
}

// enter puts a batch into the stage from a day of its age, where it would be in
// another one.
func enter(b *config.Batch, plan schedule.Plan, fromDay int, today schedule.Date) {
	stage := slices.IndexFunc(plan.Stages, func(st schedule.Stage) bool { return st.FromDay == fromDay })
	if now, ok := b.StageOn(plan, today); stage >= 0 && (!ok || now != stage) {
		b.Passages = append(b.Passages, schedule.Passage{On: today, Stage: stage})
	}
}
