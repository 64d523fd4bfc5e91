package ledger

import (
	"maps"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// batch is what waits to be written: of each flood its newest state, the other
// rows in order, the run times gained, the newest checkpoint and the newest
// outbox.
type batch struct {
	floods     map[int64]flood
	rows       []row
	runs       map[dayOutput]run
	checkpoint *checkpoint
	outbox     *handed
	acks       []loop.Ack
	stored     []chan struct{} // closed when all of the batch is on storage
}

// flood is a row of the table of floods, its bench by name.
type flood struct {
	controller.Flood
	bench string
}

// row is a row of a table that only grows. Its number is given when it is
// first tried, so that a second try cannot double it.
type row struct {
	number int64
	count  string // tried before insert, which then adds only what was not counted; empty for most
	insert string
	args   []any
	detail bool // may be given up when memory is short
	again  bool // a trip that did not latch: may be given up next
}

// dayOutput is one output on one local day.
type dayOutput struct{ date, output string }

// run is how long an output was on, and how often it was switched on.
type run struct {
	on     time.Duration
	starts int
}

func (b *batch) empty() bool {
	return len(b.floods) == 0 && len(b.rows) == 0 && len(b.runs) == 0 && b.checkpoint == nil && b.outbox == nil && len(b.stored) == 0
}

// waiting counts the rows to be written.
func (b *batch) waiting() int { return len(b.floods) + len(b.rows) }

func (b *batch) addFlood(f flood) {
	if b.floods == nil {
		b.floods = make(map[int64]flood)
	}
	b.floods[f.ID] = f
}

func (b *batch) addRun(k dayOutput, r run) {
	if b.runs == nil {
		b.runs = make(map[dayOutput]run)
	}
	sum := b.runs[k]
	b.runs[k] = run{on: sum.on + r.on, starts: sum.starts + r.starts}
}

// followedBy returns b and what was recorded after it as one batch.
func (b batch) followedBy(next batch) batch {
	if b.floods == nil {
		b.floods = next.floods
	} else {
		maps.Copy(b.floods, next.floods)
	}
	b.rows = append(b.rows, next.rows...)
	for k, r := range next.runs {
		b.addRun(k, r)
	}
	if next.checkpoint != nil {
		b.checkpoint = next.checkpoint
	}
	b.outbox = b.outbox.followedBy(next.outbox)
	b.acks = append(b.acks, next.acks...)
	b.stored = append(b.stored, next.stored...)
	return b
}

// shed gives up the oldest rows above the limit, and says how many: details
// first, then trips that did not latch, and never a flood. It goes a tenth below
// the limit, so that a long outage does not shed at every turn.
func (b *batch) shed(limit int) int {
	if len(b.rows) <= limit {
		return 0
	}
	excess, shed := len(b.rows)-limit*9/10, 0
	for _, may := range []func(*row) bool{func(r *row) bool { return r.detail }, func(r *row) bool { return r.again }} {
		b.rows = slices.DeleteFunc(b.rows, func(r row) bool {
			gone := shed < excess && may(&r)
			if gone {
				shed++
			}
			return gone
		})
	}
	if over := len(b.rows) - limit; over > 0 {
		b.rows = slices.Delete(b.rows, 0, over)
		shed += over
	}
	return shed
}
