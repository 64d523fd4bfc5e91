package loop

import (
	"context"
	"errors"

	"benchtide/controller"
	"benchtide/safety"
)

// Core is what a request may touch, between two turns.
type Core struct {
	Now        safety.Now
	Controller *controller.Controller
	Guard      *safety.Guard
}

type request struct {
	do   func(Core) error
	done chan error
}

// ErrStopped says that the loop has ended.
var ErrStopped = errors.New("the loop has stopped")

// Do runs f between two turns and returns its error. f must not wait.
func (l *Loop) Do(ctx context.Context, f func(Core) error) error {
	r := request{do: f, done: make(chan error, 1)}
	select {
	case l.requests <- r:
	case <-l.stopped:
		return ErrStopped
	case <-ctx.Done():
		return ctx.Err()
	}
	l.Wake()
	select {
	case err := <-r.done:
		return err
	case <-l.stopped:
		return ErrStopped
	case <-ctx.Done():
		return ctx.Err()
	}
}

// serve runs the requests that have come in.
func (l *Loop) serve() {
	for {
		select {
		case r := <-l.requests:
			r.done <- l.Act(r.do)
		default:
			return
		}
	}
}

// Act runs f between two turns, for the goroutine that takes the turns.
func (l *Loop) Act(f func(Core) error) error {
	return f(Core{Now: l.Clock.Now(), Controller: l.Controller, Guard: l.Guard})
}
