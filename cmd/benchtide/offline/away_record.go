package offline

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"

	"benchtide/cmd/benchtide/ask"
	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/ledger"
	"benchtide/controller/live"
	"benchtide/controller/web"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// source tells what is on record; a client of the daemon is one.
type source interface {
	Get(ctx context.Context, path string, query url.Values, into any) error
	Open(ctx context.Context, path string, query url.Values) (io.ReadCloser, error)
}

// recordWanted is how many floods are asked for: some months of a bench.
const recordWanted = "500"

// readRecord asks the daemon for what the check before going away wants to know,
// and puts what people have said of batches into the site. Without all of it there
// is no record.
func readRecord(ctx context.Context, from source, site *config.Site) (*grow.Record, error) {
	var floods web.Floods
	var diary web.Diary
	status, err := statusOf(ctx, from, site)
	if err != nil {
		return nil, err
	}
	outlook.AsOf(site, schedule.CivilIn(controller.Instant(status.At), site.Zone).Date(), saidOf(status))
	if err := errors.Join(
		from.Get(ctx, "ledger", ask.Parameters("limit", recordWanted), &floods),
		from.Get(ctx, "diary", nil, &diary),
	); err != nil {
		return nil, err
	}
	r := &grow.Record{Untrusted: !status.ClockTrusted, Held: held(status), Diary: map[string][]grow.Entry{}}
	r.Now = controller.Instant(status.At)
	for _, s := range status.Reservoirs {
		unknown := ""
		if s.Basis == string(controller.Unknown) || s.Basis == "" {
			unknown = cmp.Or(s.Words, "nothing has weighed it")
		}
		r.Litres, r.Unknown = append(r.Litres, demand.Litres(s.Litres)), append(r.Unknown, unknown)
	}
	for i := range floods.Floods {
		if f, ended := outlook.Flood(site, &floods.Floods[i]); ended {
			r.Floods = append(r.Floods, f)
		}
	}
	for _, e := range diary.Entries {
		r.Diary[e.Place] = append(r.Diary[e.Place], outlook.Entry(controller.Instant(e.At), e.Kind, e.Value))
	}
	if r.Weighed, err = readWeighings(ctx, from); err != nil {
		return nil, err
	}
	r.Proofs, err = readProofs(ctx, from)
	return r, err
}

// statusOf asks a daemon that keeps this site how it stands.
func statusOf(ctx context.Context, from source, site *config.Site) (*live.Status, error) {
	var status live.Status
	if err := from.Get(ctx, "status", nil, &status); err != nil {
		return nil, err
	}
	if status.Site != site.Name {
		return nil, fmt.Errorf("the daemon that answers keeps %q, and the file is of %q", status.Site, site.Name)
	}
	return &status, nil
}

// held is what stands in the way of floods, in words.
func held(status *live.Status) (all []string) {
	if status.HandsIn {
		all = append(all, "hands-in is on")
	}
	called := status.Titles()
	for _, b := range status.Benches {
		if b.PausedUntil != nil {
			all = append(all, fmt.Sprintf("%s is paused until %s", called.Bench(b.Name), ask.Clock(*b.PausedUntil, ask.DayAndTime)))
		}
		if b.Sanitising != nil {
			all = append(all, called.Bench(b.Name)+" is being sanitised: confirm rinsed")
		}
		for _, t := range b.Latched {
			all = append(all, fmt.Sprintf("%s has to be reset: %s", called.Bench(b.Name), t.Words))
		}
	}
	return all
}

func readProofs(ctx context.Context, from source) (proofs []grow.Proof, err error) {
	rows, err := exported[struct{ At, Place, Switch string }](ctx, from, "proof-tests", "")
	for _, row := range rows {
		proofs = append(proofs, grow.Proof{Switch: row.Place + "." + row.Switch, At: controller.Instant(row.At)})
	}
	return proofs, err
}

// readWeighings asks for what reservoirs were weighed to lose in the latest month.
func readWeighings(ctx context.Context, from source) (map[string][]grow.Gone, error) {
	rows, err := exported[struct {
		At, Reservoir string
		Gone          *float64 `json:"gone_l"`
	}](ctx, from, "weighings", "30d")
	var all []ledger.Weighing
	for _, row := range rows {
		all = append(all, ledger.Weighing{At: ledger.When{Time: controller.Instant(row.At)}, Reservoir: row.Reservoir, Gone: row.Gone})
	}
	return live.Weighed(all), err
}

// exported reads the rows of a table of the record.
func exported[T any](ctx context.Context, from source, table, since string) (all []T, err error) {
	rows, err := from.Open(ctx, "export", ask.Parameters("table", table, "format", string(ledger.Lines), "since", since))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for d := json.NewDecoder(rows); ; {
		var row T
		switch err := d.Decode(&row); {
		case errors.Is(err, io.EOF):
			return all, nil
		case err != nil:
			return nil, fmt.Errorf("read the %s: %w", table, err)
		}
		all = append(all, row)
	}
}

// saidOf is what people have said of a running site's batches.
func saidOf(status *live.Status) (all []outlook.Said) {
	for _, k := range status.Batches {
		said := outlook.Said{Batch: k.Name}
		if k.Closed != nil {
			said.Closed, _ = schedule.ParseDate(*k.Closed)
		}
		if k.Stage != nil {
			said.FromDay, said.Stands = *k.Stage, true
		}
		all = append(all, said)
	}
	return all
}
