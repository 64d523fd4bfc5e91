package ledger

import (
	"cmp"
	"database/sql"
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
}

// recover opens the file and reads what the program goes on from. Its error
// means that the file must not be used.
func (l *Ledger) recover() (Recovered, error) {
	var r Recovered
	err := l.store.ready()
	if errors.Is(err, errNewer) {
		return r, err
	}
	r.SetAside, r.Damage = l.store.aside, l.store.ailment
	l.stats.SetAside, l.stats.Damage = r.SetAside, r.Damage
	if err == nil && r.SetAside != "" {
		err = l.store.write(&batch{}) // the salvaged checkpoint is not risked again
	}
	var cp *checkpoint
	var floods []flood
	if err == nil {
		cp, floods, err = l.recall(l.store.db)
	} else {
		cp, floods = l.recallFrozen()
	}
	r.Trouble = err
	l.stats.Trouble = err
	r.Messages = l.recallOutbox()
	cp = l.reconcile(cp, floods)
	if cp == nil && err != nil {
		cp = unremembered()
	}
	if cp != nil {
		r.Checkpoint = cp.Checkpoint
	}
	return r, nil
}

// recall reads the checkpoint and the open floods of a database.
func (l *Ledger) recall(db *sql.DB) (*checkpoint, []flood, error) {
	cp, err := assemble(l.store.newest)
	if err != nil {
		return nil, nil, err
	}
	floods, err := unfinished(db, cp)
	if err != nil {
		return nil, nil, err
	}
	var last int64
	if err := db.QueryRow("SELECT coalesce(max(id), 0) FROM floods").Scan(&last); err != nil {
		return nil, nil, err
	}
	if cp == nil && last > 0 {
		cp = &checkpoint{Checkpoint: &loop.Checkpoint{}}
	}
	if cp != nil {
		cp.Controller.NextID = max(cp.Controller.NextID, last+1)
	}
	return cp, floods, nil
}

// recallFrozen reads what it can of a file on storage that takes no writes.
func (l *Ledger) recallFrozen() (*checkpoint, []flood) {
	db, err := peek(l.path)
	if err != nil {
		return nil, nil
	}
	defer func() { _ = db.Close() }()
	if v, err := version(db); err != nil || v > len(l.store.schema) {
		return nil, nil
	}
	if l.store.newest == nil {
		if l.store.newest, err = readParts(db); err != nil {
			return nil, nil
		}
	}
	cp, floods, err := l.recall(db)
	if err != nil {
		return nil, nil
	}
	return cp, floods
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
