package live

import (
	"context"
	"time"

	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/ledger"
)

// grown is what the ledger tells of a site's plants.
func (r *Record) grown(ctx context.Context, now time.Time) (*grow.Record, error) {
	diary, err := r.ledger.Diary(ctx, ledger.Query{Since: now.Add(-diaryFor)})
	if err != nil {
		return nil, err
	}
	rows, err := r.Floods(ctx, Query{Since: now.Add(-floodsFor)})
	if err != nil {
		return nil, err
	}
	weighings, err := r.ledger.Weighings(ctx, ledger.Query{Since: now.Add(-weighingsFor)})
	if err != nil {
		return nil, err
	}
	k := &grow.Record{Now: now, Diary: map[string][]grow.Entry{}, Weighed: Weighed(weighings)}
	for _, d := range diary {
		k.Diary[d.Place] = append(k.Diary[d.Place], outlook.Entry(d.At.Time, string(d.Kind), d.Value))
	}
	for i := range rows {
		if f, ended := outlook.Flood(r.site, &rows[i]); ended {
			k.Floods = append(k.Floods, f)
		}
	}
	return k, nil
}

// Weighed are the pairs of weighings, by reservoir.
func Weighed(rows []ledger.Weighing) map[string][]grow.Gone {
	by := map[string][]grow.Weighing{}
	for _, w := range rows {
		by[w.Reservoir] = append(by[w.Reservoir], grow.Weighing{At: w.At.Time, Gone: w.Gone})
	}
	pairs := map[string][]grow.Gone{}
	for reservoir, all := range by {
		pairs[reservoir] = grow.Pairs(all)
	}
	return pairs
}

// How far back an outlook reads: a batch's whole life, floods as far as they are
// asked about, and weighings as far as they are learned from.
const (
	weighingsFor = 30 * 24 * time.Hour
	diaryFor     = 400 * 24 * time.Hour
	floodsFor    = 7 * 24 * time.Hour
)
