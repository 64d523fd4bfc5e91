package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/ledger"
	"benchtide/controller/web"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// learned is what the record of a site adds to its outlook.
type learned struct {
	uses      []grow.Use     // by reservoir
	daily     []float64      // by reservoir: L a day that were topped up; 0 where that is not known
	diaries   [][]grow.Entry // by reservoir
	now       time.Time
	solutions []grow.Solution
	stands    []grow.Stand // by batch
	proposals []grow.Proposal
	questions []grow.Question
}

// learn has the outlook reckon with what batches really use, and works out what
// else the record tells.
func (o *outlook) learn(r *grow.Record) error {
	k := &learned{now: r.Now}
	zone := o.site.Zone
	for i, res := range o.site.Reservoirs {
		var on []int
		for b := range o.site.Batches {
			if o.site.Benches[o.site.Batches[b].Bench].Reservoir == i {
				on = append(on, b)
			}
		}
		use, err := o.grow.Learn(on, r.Diary[res.Name], zone)
		if err != nil {
			return err
		}
		daily, _ := grow.DailyUse(r.Diary[res.Name])
		k.uses, k.daily = append(k.uses, use), append(k.daily, float64(daily))
		k.diaries = append(k.diaries, r.Diary[res.Name])
		k.solutions = append(k.solutions, grow.SolutionOf(r.Diary[res.Name], demand.Litres(res.Usable), r.Now))
		for _, b := range on {
			o.grow.Batches[b].Demand.Scale = use.Scale
		}
	}
	for i := range o.site.Batches {
		k.stands = append(k.stands, o.grow.Stand(i, r, zone))
	}
	today := schedule.CivilIn(r.Now, zone).Date()
	var err error
	if k.proposals, err = o.grow.Propose(today, r, zone); err != nil {
		return err
	}
	k.questions = o.grow.Questions(today, r, zone)
	o.learned = k
	return nil
}

// proposal is one in words.
func (o *outlook) proposal(p grow.Proposal) string {
	b := o.site.Batches[p.Batch]
	st := o.site.Plans[b.Plan].Stages[p.Stage]
	text := fmt.Sprintf("%s might enter its stage from day %d, %s: %s.", b.Name, st.FromDay, schedule.Describe(st), strings.Join(p.Reasons, "; "))
	if len(p.Against) > 0 {
		text += " But " + strings.Join(p.Against, "; ") + ": look at the plants first."
	}
	return text + " It does so when you advance it."
}

// grown is what the ledger tells of a site's plants.
func (r *keptRecord) grown(ctx context.Context, now time.Time) (*grow.Record, error) {
	diary, err := r.ledger.Diary(ctx, ledger.Query{Since: now.Add(-diaryFor)})
	if err != nil {
		return nil, err
	}
	rows, err := r.Floods(ctx, web.Query{Since: now.Add(-floodsFor)})
	if err != nil {
		return nil, err
	}
	k := &grow.Record{Now: now, Diary: map[string][]grow.Entry{}}
	for _, d := range diary {
		k.Diary[d.Place] = append(k.Diary[d.Place], entryOf(d.At.Time, string(d.Kind), d.Value))
	}
	for i := range rows {
		if f, ended := floodOf(r.site, &rows[i]); ended {
			k.Floods = append(k.Floods, f)
		}
	}
	return k, nil
}

// How far back an outlook reads: a batch's whole life, and floods as far as they
// are asked about.
const (
	diaryFor  = 400 * 24 * time.Hour
	floodsFor = 7 * 24 * time.Hour
)

// asOf puts what people have said of a running site's batches into its file: of
// stages what they are in today.
func asOf(site *config.Site, status *web.Status) {
	today := schedule.CivilIn(instant(status.At), site.Zone).Date()
	for i := range site.Batches {
		b := &site.Batches[i]
		for _, k := range status.Batches {
			if k.Name != b.Name {
				continue
			}
			if k.Closed != nil {
				b.Closed, _ = schedule.ParseDate(*k.Closed)
			}
			if k.Stage != nil {
				enter(b, site.Plans[b.Plan], *k.Stage, today)
			}
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
