package outlook

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Learned is what the record of a site adds to its outlook.
type Learned struct {
	Uses      []grow.Use     // by reservoir
	Daily     []float64      // by reservoir: L a day that were topped up; 0 where that is not known
	Diaries   [][]grow.Entry // by reservoir
	Now       time.Time
	Solutions []grow.Solution
	Stands    []grow.Stand // by batch
	Proposals []grow.Proposal
	Questions []grow.Question
}

// learn has the outlook reckon with what batches really use, and works out what
// else the record tells.
func (o *Outlook) learn(r *grow.Record) error {
	k := &Learned{Now: r.Now}
	zone := o.Site.Zone
	for i, res := range o.Site.Reservoirs {
		on := batchesOn(o.Site, i)
		use, err := o.Grow.LearnFrom(on, r.Weighed[res.Name], r.Diary[res.Name], r.Now, zone)
		if err != nil {
			return err
		}
		daily, _ := grow.DailyUse(r.Diary[res.Name])
		k.Uses, k.Daily = append(k.Uses, use), append(k.Daily, float64(daily))
		k.Diaries = append(k.Diaries, r.Diary[res.Name])
		k.Solutions = append(k.Solutions, grow.SolutionOf(r.Diary[res.Name], demand.Litres(res.Usable), r.Now, o.Grow.Units))
		for _, b := range on {
			o.Grow.Batches[b].Demand.Scale = use.Scale
		}
	}
	for i := range o.Site.Batches {
		k.Stands = append(k.Stands, o.Grow.Stand(i, r, zone))
	}
	today := schedule.CivilIn(r.Now, zone).Date()
	var err error
	if k.Proposals, err = o.Grow.Propose(today, r, zone); err != nil {
		return err
	}
	k.Questions = o.Grow.Questions(today, r, zone)
	o.Learned = k
	return nil
}

// batchesOn are the batches of the file that a reservoir waters.
func batchesOn(site *config.Site, reservoir int) (on []int) {
	for b := range site.Batches {
		if site.Benches[site.Batches[b].Bench].Reservoir == reservoir {
			on = append(on, b)
		}
	}
	return on
}

// Proposal is one in words.
func (o *Outlook) Proposal(p grow.Proposal) string {
	b := o.Site.Batches[p.Batch]
	st := o.Site.Plans[b.Plan].Stages[p.Stage]
	text := fmt.Sprintf("%s might enter its stage from day %d, %s: %s.", o.Site.Titles.Batch(b.Name), st.FromDay, schedule.Describe(st), strings.Join(p.Reasons, "; "))
	if len(p.Against) > 0 {
		text += " But " + strings.Join(p.Against, "; ") + ": look at the plants first."
	}
	return text + " It does so when you advance it."
}

// Flood is a row of the ledger as advice on plants knows it; false while it is
// under way, and of a bench that the file does not have.
func Flood(site *config.Site, row *controller.Row) (grow.Flood, bool) {
	bench := slices.Index(site.BenchNames(), row.Bench)
	if bench < 0 || row.Outcome == "" {
		return grow.Flood{}, false
	}
	f := grow.Flood{Bench: bench, Due: controller.Instant(row.Due), Proven: row.Outcome == controller.Proven, Outcome: string(row.Outcome)}
	if row.FillS != nil && row.Attempt == 0 {
		f.Fill = time.Duration(*row.FillS * float64(time.Second))
	}
	if row.FallS != nil && row.Attempt == 0 {
		f.Fall = time.Duration(*row.FallS * float64(time.Second))
	}
	return f, true
}

// Entry is an entry of the diary as advice on plants knows it.
func Entry(at time.Time, kind string, value *float64) grow.Entry {
	e := grow.Entry{At: at, Kind: grow.EntryKind(kind)}
	if value != nil {
		e.Value = *value
	}
	return e
}
