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
	k := &grow.Record{Now: now, Diary: map[string][]grow.Entry{}}
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

// How far back an outlook reads: a batch's whole life, and floods as far as they
// are asked about.
const (
	diaryFor  = 400 * 24 * time.Hour
	floodsFor = 7 * 24 * time.Hour
)
