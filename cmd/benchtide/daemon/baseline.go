package daemon

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/ledger"
	"benchtide/controller/live"
	"benchtide/controller/rehearse"
)

// looksBack is how far back floods are read at a start: the baseline of a bench
// that nothing has happened to for longer is learnt anew.
const looksBack = 400 * 24 * time.Hour

// remember gives the watch on slow changes what the record has of the past year.
func remember(ctx context.Context, watch *drift.Watch, k *kept, now time.Time) error {
	since := ledger.Query{Since: now.Add(-looksBack)}
	floods, err := k.ledger.Past(ctx, since, k.site.BenchNames())
	if err != nil {
		return fmt.Errorf("read past floods: %w", err)
	}
	marks, err := k.marks(ctx, since)
	if err != nil {
		return fmt.Errorf("read when baselines began: %w", err)
	}
	watch.Replay(floods, marks)
	return nil
}

// marks are the times at which what is on record began a baseline, oldest first.
func (k *kept) marks(ctx context.Context, q ledger.Query) (marks []drift.Mark, err error) {
	diary, err := k.ledger.Diary(ctx, q)
	if err != nil {
		return nil, err
	}
	for _, d := range diary {
		for _, b := range live.Changes(k.site, live.Note{Kind: string(d.Kind), Place: d.Place}) {
			marks = append(marks, drift.Mark{At: d.At.Time, Bench: b})
		}
	}
	stages, err := k.ledger.Stages(ctx, q)
	if err != nil {
		return nil, err
	}
	for _, s := range stages {
		if i := slices.Index(k.site.BatchNames(), s.Batch); i >= 0 && s.Stage < 0 {
			marks = append(marks, drift.Mark{At: s.At.Time, Bench: k.site.Batches[i].Bench})
		}
	}
	slices.SortStableFunc(marks, func(a, b drift.Mark) int { return a.At.Compare(b.At) })
	return marks, nil
}

// noteBaselines writes into the diary which benches a new version of the file
// changes, tables or pots, so that their times are compared anew.
func (k *kept) noteBaselines(ctx context.Context, before []byte, at time.Time) error {
	old, problems := config.Parse(ledger.SettingsName, before)
	if problems.Err() != nil {
		return nil // an older program's file
	}
	for _, bench := range reshaped(old, k.site) {
		entry := ledger.Diary{At: ledger.When{Time: at}, Place: bench, Kind: ledger.Baseline, Text: "what the file says of the bench or its pots has changed"}
		if err := k.ledger.Add(ctx, entry); err != nil {
			return err
		}
	}
	return nil
}

// reshaped lists the benches whose fill and fall times cannot be those of the
// file before. What was measured, and how often floods come, changes no water.
func reshaped(old, now *config.Site) (benches []string) {
	was, is := rehearse.Drift(old), rehearse.Drift(now)
	for i := range now.Benches {
		name := now.Benches[i].Name
		j := slices.Index(old.BenchNames(), name)
		if j < 0 {
			continue // it has no past
		}
		a, b := was[j], is[i]
		a.Fills, a.Falls, a.Windows = 0, 0, drift.Windows{}
		b.Fills, b.Falls, b.Windows = 0, 0, drift.Windows{}
		if old.Plumbing(j) != now.Plumbing(i) || !reflect.DeepEqual(a, b) {
			benches = append(benches, name)
		}
	}
	return benches
}
