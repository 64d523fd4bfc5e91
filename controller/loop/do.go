package loop

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"

	"benchtide/controller"
	"benchtide/safety"
)

// Core is what a request may touch, between two turns.
type Core struct {
	Now        safety.Now
	Controller *controller.Controller
	Guard      *safety.Guard
}

// Fate is what becomes of a request whose asker goes before the loop has begun
// it.
type Fate uint8

const (
	// Lapses is for what starts water, releases a trip or only asks: whoever was
	// told that it was not done is not to be surprised by it later.
	Lapses Fate = iota
	// Stands is for what stops or tells: once handed over it is done, whoever has
	// gone.
	Stands
)

// Errors of Do besides those of the request itself.
var (
	// ErrNotDone says that the request was not done and never will be.
	ErrNotDone = errors.New("not done")
	// ErrNotKnown says that the request was handed over and may still be done.
	ErrNotKnown = errors.New("not known whether it was done")
	// ErrStopped says that the loop has ended.
	ErrStopped = errors.New("the loop has stopped")
)

// request is one act or question on its way to the loop. Whoever claims it
// first, the loop or the asker who gives it up, decides what becomes of it.
type request struct {
	do    func(Core) error
	fate  Fate
	taken atomic.Bool
	done  chan error
}

func (r *request) claim() bool { return r.taken.CompareAndSwap(false, true) }

// Do has the loop run f between two turns and returns its error. f must not
// wait. When ctx or the loop ends first the error is ErrNotDone and f is never
// run, or, for a request that Stands, ErrNotKnown.
func (l *Loop) Do(ctx context.Context, fate Fate, f func(Core) error) error {
	r := &request{do: f, fate: fate, done: make(chan error, 1)}
	if !l.requests.add(r) {
		return notDone(ErrStopped)
	}
	l.Wake()
	select {
	case err := <-r.done:
		return err
	case <-l.stopped:
		return l.left(r, ErrStopped)
	case <-ctx.Done():
	}
	if fate == Stands && !r.taken.Load() {
		return fmt.Errorf("%w: %w", ErrNotKnown, context.Cause(ctx))
	}
	return l.left(r, context.Cause(ctx))
}

// left gives a request up; one that the loop has begun it waits for.
func (l *Loop) left(r *request, why error) error {
	if r.claim() {
		return notDone(why)
	}
	select {
	case err := <-r.done:
		return err
	case <-l.stopped:
	}
	select {
	case err := <-r.done:
		return err
	default: // the loop died of it
		return fmt.Errorf("%w: %w", ErrNotKnown, ErrStopped)
	}
}

func notDone(why error) error { return fmt.Errorf("%w: %w", ErrNotDone, why) }

// serve runs the requests that have come in.
func (l *Loop) serve() {
	for _, r := range l.requests.take() {
		if r.claim() {
			r.done <- l.Act(r.do)
		}
	}
}

// serveLast runs what stands of the requests that have come in, and takes no
// more.
func (l *Loop) serveLast() {
	for _, r := range l.requests.end() {
		switch {
		case !r.claim():
		case r.fate == Stands:
			r.done <- l.Act(r.do)
		default:
			r.done <- notDone(ErrStopped)
		}
	}
}

// Act runs f between two turns, for the goroutine that takes the turns.
func (l *Loop) Act(f func(Core) error) error {
	return f(Core{Now: l.Clock.Now(), Controller: l.Controller, Guard: l.Guard})
}

// queue keeps requests in the order in which they came. Its lock is held for no
// call.
type queue struct {
	mu    sync.Mutex
	list  []*request
	spare []*request // what was taken last, for its room
	ended bool
}

// add reports false once the queue has ended.
func (q *queue) add(r *request) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.ended {
		q.list = append(q.list, r)
	}
	return !q.ended
}

// take returns all that wait; valid until the next call.
func (q *queue) take() []*request {
	q.mu.Lock()
	defer q.mu.Unlock()
	taken := q.list
	clear(q.spare)
	q.list, q.spare = q.spare[:0], taken
	return taken
}

// end returns all that wait and takes no more.
func (q *queue) end() []*request {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.ended = true
	taken := q.list
	q.list = nil
	return taken
}
