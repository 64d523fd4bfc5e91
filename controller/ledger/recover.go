package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// Recovered is what a program goes on from after a restart.
type Recovered struct {
	Checkpoint *loop.Checkpoint // stored last, its open floods as the ledger knows them; nil at the very first start
	SetAside   string           // where a damaged file was put; empty when it was whole
	Damage     error            // what was wrong with it
	Trouble    error            // why storage cannot be used now; nil when it can
	Messages   error            // what of the messages that waited cannot be read; nil when all could

	// Commissioned is what commissioning found, oldest first.
	Commissioned []Commissioning
	// Found is what a person has to know of the record, in whole sentences.
	Found []string
}

// recover opens the file, reads it and the copy beside it, and makes of the two
// what the program goes on from.
func (l *Ledger) recover() (r Recovered) {
	if l.fresh() {
		l.store.birth = l.born()
	}
	copied := readWitness(l.copier.path)
	err := l.store.ready()
	kept := l.store.found
	switch newer := l.newer(err); {
	case newer != nil:
		kept, err = &witness{what: ledgerText, there: true, fault: newer}, newer
	case kept == nil:
		kept = salvage(l.path) // on storage that takes no writes
	}
	var found []string
	kept, copied, found, err = l.own(kept, copied, err)
	r.SetAside, r.Damage = l.store.aside, l.store.ailment
	l.stats.SetAside, l.stats.Damage = r.SetAside, r.Damage
	cp := l.weigh(kept, copied)
	r.Found = append(found, differences(kept, copied)...)
	r.Commissioned = l.commissioned
	if err == nil {
		err = l.mend(cp, kept, copied)
	}
	var floods []flood
	cp, floods, err = l.openFloods(cp, err)
	r.Trouble = l.told(err)
	l.stats.Trouble = r.Trouble
	r.Messages = l.recallOutbox()
	cp = l.reconcile(cp, floods)
	switch {
	case cp == nil && err != nil:
		cp = unremembered()
	case err != nil && kept.head == nil: // whatever is on that storage
		cp.Controller.NextID = max(cp.Controller.NextID, unremembered().Controller.NextID)
	}
	if cp != nil {
		r.Checkpoint = cp.Checkpoint
	}
	return r
}

// newer says that a newer program wrote the ledger; nil when none did. This one
// cannot know what its rows mean: it neither reads nor writes it, and goes on as
// with a ledger that cannot be read.
func (l *Ledger) newer(err error) error {
	if errors.Is(err, errNewer) {
		return err
	}
	if v, e := peekVersion(l.path); l.store.db == nil && e == nil && v > len(l.store.schema) {
		return fmt.Errorf("version %d: %w", v, errNewer)
	}
	return nil
}

// openFloods reads the floods without an outcome; where the file is not open,
// from what can be read of it.
func (l *Ledger) openFloods(cp *checkpoint, trouble error) (*checkpoint, []flood, error) {
	db := l.store.db
	if db == nil {
		frozen, err := peek(l.path)
		if err != nil || !there(l.path) || errors.Is(trouble, errNewer) {
			return cp, nil, trouble
		}
		defer func() { _ = frozen.Close() }()
		db = frozen
	}
	floods, err := unfinished(db, cp)
	var last int64
	if err == nil {
		err = db.QueryRow("SELECT coalesce(max(id), 0) FROM floods").Scan(&last)
	}
	if cp == nil && last > 0 {
		cp = &checkpoint{Checkpoint: &loop.Checkpoint{}}
	}
	if cp != nil {
		cp.Controller.NextID = max(cp.Controller.NextID, last+1)
	}
	if trouble == nil {
		trouble = err
	}
	return cp, floods, trouble
}

// unremembered is where a program goes on whose storage cannot be read: after
// an outage of unknown length, and with numbers that no flood on that storage
// has, should it come back.
func unremembered() *checkpoint {
	id := 1<<40 + rand.Int64N(1<<30)<<10
	return &checkpoint{Checkpoint: &loop.Checkpoint{Controller: controller.State{NextID: id}}}
}

// reconcile makes the open floods of cp those of the ledger, whose rows may be
// newer, and gives an outcome to those whose bench is gone.
func (l *Ledger) reconcile(cp *checkpoint, rows []flood) *checkpoint {
	if cp == nil {
		return nil
	}
	orphans := cp.reindex(l.names.benches)
	known := cp.Controller.Open
	cp.Controller.Open = nil
	for _, f := range rows {
		known = slices.DeleteFunc(known, func(k controller.Flood) bool { return k.ID == f.ID })
		orphans = slices.DeleteFunc(orphans, func(o flood) bool { return o.ID == f.ID })
		if f.Bench = slices.Index(l.names.benches, f.bench); f.Bench < 0 {
			orphans = append(orphans, f)
			continue
		}
		if f.Open() {
			cp.Controller.Open = append(cp.Controller.Open, f.Flood)
		}
	}
	cp.Controller.Open = append(cp.Controller.Open, known...)
	slices.SortFunc(cp.Controller.Open, func(a, b controller.Flood) int { return cmp.Compare(a.ID, b.ID) })
	for _, f := range orphans {
		l.settleOrphan(f, cp.Controller.Wall)
	}
	return cp
}

// settleOrphan ends a flood whose bench is no longer in the file.
func (l *Ledger) settleOrphan(f flood, at time.Time) {
	if !f.Open() {
		return
	}
	f.Outcome, f.Ended = controller.Missed, at
	if !f.Started.IsZero() {
		f.Outcome = controller.Interrupted
	}
	f.Reason = fmt.Sprintf("bench %q is no longer in the file", f.bench)
	l.next.addFlood(f)
	l.signal(true)
}
