package notify

import (
	"sync"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// inbox is what the loop leaves for the dispatcher. Leaving it waits for
// nothing but a lock that is held for moments.
type inbox struct {
	mu sync.Mutex
	received
}

// received is what came in since the last look.
type received struct {
	told     []told
	now      safety.Now // of the latest turn
	any      bool
	snapshot *loop.Snapshot // nil unless there is a new one
}

// told is a message, or a flood that ended.
type told struct {
	at      safety.Now
	message controller.Message
	flood   *controller.Flood
}

// mostTold bounds what waits in memory should the dispatcher stand still; what is
// urgent is in the snapshot as well.
const mostTold = 5000

// Turn leaves what happened in a turn. It never waits for storage or network.
func (d *Dispatcher) Turn(t *loop.Turn) {
	if d.inbox.put(t) {
		d.poke()
	}
}

// poke has the dispatcher's goroutine work up what there is.
func (d *Dispatcher) poke() {
	select {
	case d.work <- struct{}{}:
	default:
	}
}

// put reports whether there is something to work up.
func (b *inbox) put(t *loop.Turn) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	first := !b.any && b.now == safety.Now{}
	b.now, b.any = t.Now, true
	if len(t.Events) == 0 && !first {
		return false
	}
	for i := range t.Events {
		e := &t.Events[i]
		switch {
		case len(b.told) >= mostTold:
		case e.Kind == controller.MessageSent:
			b.told = append(b.told, told{at: e.At, message: e.Message})
		case e.Kind == controller.FloodEnded:
			f := e.Flood
			b.told = append(b.told, told{at: e.At, flood: &f})
		}
	}
	if t.Snapshot != nil {
		b.snapshot = t.Snapshot.Keep()
	}
	return true
}

// take empties the inbox.
func (b *inbox) take() received {
	b.mu.Lock()
	defer b.mu.Unlock()
	r := b.received
	b.told, b.any, b.snapshot = nil, false, nil
	return r
}
