package loop

import (
	"context"
	"sync/atomic"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// Snapshot is the site as it stood after one turn. Nobody changes one that was
// published, so that any number may look at it and no turn waits for them.
type Snapshot struct {
	Number  int64     // of the turn, the first is 1
	At      time.Time // of the turn, in real time
	Status  controller.Status
	Command safety.Command
	Names   *controller.Names

	kept atomic.Bool // somebody may look at it: its memory is not used again
}

// Keep lets a sink look at the snapshot of a turn after its call.
func (p *Snapshot) Keep() *Snapshot {
	p.kept.Store(true)
	return p
}

// published has the snapshot of the latest turn. A snapshot that nobody looked at
// lends its memory to the one after the next.
type published struct {
	newest atomic.Pointer[Snapshot]
	spare  *Snapshot                     // of the loop's goroutine
	turned atomic.Pointer[chan struct{}] // closed at the next turn; nil while nobody waits
}

// next is a snapshot to be filled in.
func (s *published) next() *Snapshot {
	p := s.spare
	s.spare = nil
	if p == nil || p.kept.Load() {
		p = &Snapshot{}
	}
	return p
}

// publish puts p in the place of the one before. That one may be written over from
// here on unless it is kept: whoever had its pointer and had not kept it finds
// another snapshot in its place, and takes that.
func (s *published) publish(p *Snapshot) {
	s.spare = s.newest.Swap(p)
}

// tell ends the waiting for a turn.
func (s *published) tell() {
	if c := s.turned.Swap(nil); c != nil {
		close(*c)
	}
}

// latest returns the newest snapshot, kept.
func (s *published) latest() *Snapshot {
	for {
		p := s.newest.Load()
		if p == nil {
			return nil
		}
		p.Keep()
		if s.newest.Load() == p {
			return p
		}
	}
}

// coming is closed at the next turn.
func (s *published) coming() <-chan struct{} {
	for {
		if c := s.turned.Load(); c != nil {
			return *c
		}
		c := make(chan struct{})
		s.turned.CompareAndSwap(nil, &c)
	}
}

// Snapshot is how the site stood after the latest turn: nil before the first, and
// from a loop that does not publish. It is for any goroutine.
func (l *Loop) Snapshot() *Snapshot { return l.published.latest() }

// After waits for a snapshot of a turn later than the one of this number. It is
// for any goroutine; the error is ctx's.
func (l *Loop) After(ctx context.Context, number int64) (*Snapshot, error) {
	for {
		coming := l.published.coming()
		if p := l.Snapshot(); p != nil && p.Number > number {
			return p, nil
		}
		select {
		case <-coming:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// snapshot fills in how the site stands after this turn; nil where nobody asked
// for that.
func (l *Loop) snapshot(c safety.Command) *Snapshot {
	if !l.Publish {
		return nil
	}
	p := l.published.next()
	p.Number, p.At, p.Command, p.Names = int64(l.turns), time.Now(), c, &l.Names
	l.Controller.StatusInto(&p.Status)
	l.published.publish(p)
	return p
}
