package daemon

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// reloader puts a new version of the site's file in place of the one in force:
// between floods, with every pump circuit open. Board and record are opened anew,
// and the guard goes on: a reload is no program start. A version that is not
// sound, or that the board does not take, changes nothing.
type reloader struct {
	hangups <-chan os.Signal
	inForce version
	told    bool // of a version that did not come into force
	read    func() (version, error)
	start   func(context.Context, version, kept) (kept, machine, error) // kept says where the record is
	overdue func(context.Context) []int                                 // benches whose proof test has become overdue
	notice  func(format string, args ...any)
}

// judgeEvery is how often the proof tests of the switches are looked at.
const judgeEvery = 24 * time.Hour

// quietEvery is how often a new version looks for its moment.
const quietEvery = 500 * time.Millisecond

// await reads the file at each hangup and returns a new version once nothing
// floods; nil when ctx ends first. The version in force is new, too, when a proof
// test has become overdue: it may shorten the limits.
func (r *reloader) await(ctx context.Context, d *daemon) *version {
	ticker := time.NewTicker(quietEvery)
	defer ticker.Stop()
	judge := time.NewTicker(judgeEvery)
	defer judge.Stop()
	var next *version
	for {
		var look <-chan time.Time // nobody wakes for nothing
		if next != nil {
			look = ticker.C
		}
		select {
		case <-r.hangups:
			next = r.reread(ctx, d, next)
		case <-judge.C:
			if next == nil && r.tellOverdue(ctx, d) {
				next = &r.inForce
			}
		case <-look:
			if d.live.Quiet(ctx) {
				return next
			}
		case <-ctx.Done():
			return nil
		}
	}
}

// tellOverdue tells of each proof test that has become overdue, and reports
// whether there is any.
func (r *reloader) tellOverdue(ctx context.Context, d *daemon) bool {
	benches := r.overdue(ctx)
	for _, b := range benches {
		name := r.inForce.site.Benches[b].Name
		d.live.Tell(ctx, controller.Message{Urgency: controller.Today, Bench: b, Cause: "proof-test",
			Text: fmt.Sprintf("The proof test of the switches of %s is overdue. Until it is done, holds may be shorter than the plan's. Stand beside the bench and do \"benchtide commission --proof-test %s\".", name, name)})
	}
	return len(benches) > 0
}

// reread reads the file and returns the version that waits from now on. One that
// is not sound changes nothing, neither what is in force nor what waits.
func (r *reloader) reread(ctx context.Context, d *daemon, waits *version) *version {
	v, err := r.read()
	if err != nil {
		r.notice("The file was read again and changes nothing: %v", err)
		r.told = true
		d.live.Tell(ctx, notInForce(err))
		return waits
	}
	if r.told {
		r.told = false
		d.live.Tell(ctx, controller.Message{Urgency: controller.Today, Bench: -1, Cause: "settings", Text: "The file is sound again.", Gone: true})
	}
	if string(v.text) != string(r.inForce.text) {
		r.notice("The file was read again; it comes into force when nothing floods.")
		return &v
	}
	if waits != nil && waits != &r.inForce {
		r.notice("The file was read again: it is what is in force, and what waited to come into force is dropped.")
		return nil
	}
	r.notice("The file was read again: nothing has changed.")
	return waits
}

// swap goes on with a version. The loop of d has ended, with every output off.
func (r *reloader) swap(ctx context.Context, d *daemon, k kept, m machine, v version) (kept, machine, error) {
	k.ledger.Record(nil, &loop.Checkpoint{Controller: d.loop.Controller.State(m.boot), Guard: d.loop.Guard.State()})
	k.before = &before{guard: d.loop.Guard, state: d.loop.Controller.State(thisBoot), messages: d.post.dispatcher.State()}
	if err := m.board.Close(); err != nil {
		return k, m, errors.Join(err, k.ledger.Close())
	}
	lost := k.ledger.Close()
	k.checkpoint = nil
	next, machine, err := r.begin(ctx, v, k)
	if err == nil {
		r.inForce = v
		r.notice("The changed file is in force.")
		return next.after(lost), machine, nil
	}
	old, machine, again := r.begin(ctx, r.inForce, k)
	if again != nil {
		return k, m, errors.Join(err, again)
	}
	r.notice("The changed file changes nothing: %v", err)
	old.notInForce, r.told = err, true
	return old.after(lost), machine, nil
}

// begin opens board and record for a version and goes on from k; nothing stays
// open for one with which no guard and controller can be made.
func (r *reloader) begin(ctx context.Context, v version, k kept) (kept, machine, error) {
	next, m, err := r.start(ctx, v, k)
	if err != nil {
		return next, m, err
	}
	next.before = k.before
	if _, _, _, err := next.core(m.clock.Now(), m.boot); err != nil {
		return next, m, errors.Join(err, m.board.Close(), next.ledger.Close())
	}
	return next, m, nil
}

// after has a person told what the record lost in the change.
func (k kept) after(lost error) kept {
	if lost != nil {
		k.found = append(k.found, fmt.Sprintf("Not all was written when the file was changed (%v). Look at the storage.", lost))
	}
	return k
}
