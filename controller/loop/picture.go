package loop

import (
	"context"
	"sync/atomic"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// Picture is the site as it stood after one turn. Nobody changes one that was
// published, so that any number may look at it and no turn waits for them.
type Picture struct {
	Number  int64     // of the turn, the first is 1
	At      time.Time // of the turn, in real time
	Status  controller.Status
	Command safety.Command
	Names   *controller.Names

	kept atomic.Bool // somebody may look at it: its memory is not used again
}

// Keep lets a sink look at the picture of a turn after its call.
func (p *Picture) Keep() *Picture {
	p.kept.Store(true)
	return p
}

// gallery has the picture of the latest turn. A picture that nobody looked at
// lends its memory to the one after the next.
type gallery struct {
	newest atomic.Pointer[Picture]
	spare  *Picture                      // of the loop's goroutine
	turned atomic.Pointer[chan struct{}] // closed at the next turn; nil while nobody waits
}

// next is a picture to be filled in.
func (g *gallery) next() *Picture {
	p := g.spare
	g.spare = nil
	if p == nil || p.kept.Load() {
		p = &Picture{}
	}
	return p
}

// hang puts p in the place of the one before. That one may be written over from
// here on unless it is kept: whoever had its pointer and had not kept it finds
// another picture in its place, and takes that.
func (g *gallery) hang(p *Picture) {
	g.spare = g.newest.Swap(p)
}

// tell ends the waiting for a turn.
func (g *gallery) tell() {
	if c := g.turned.Swap(nil); c != nil {
		close(*c)
	}
}

// look returns the newest picture, kept.
func (g *gallery) look() *Picture {
	for {
		p := g.newest.Load()
		if p == nil {
			return nil
		}
		p.Keep()
		if g.newest.Load() == p {
			return p
		}
	}
}

// coming is closed at the next turn.
func (g *gallery) coming() <-chan struct{} {
	for {
		if c := g.turned.Load(); c != nil {
			return *c
		}
		c := make(chan struct{})
		g.turned.CompareAndSwap(nil, &c)
	}
}

// Picture is how the site stood after the latest turn: nil before the first, and
// from a loop that does not publish. It is for any goroutine.
func (l *Loop) Picture() *Picture { return l.gallery.look() }

// After waits for a picture of a turn later than the one of this number. It is
// for any goroutine; the error is ctx's.
func (l *Loop) After(ctx context.Context, number int64) (*Picture, error) {
	for {
		coming := l.gallery.coming()
		if p := l.Picture(); p != nil && p.Number > number {
			return p, nil
		}
		select {
		case <-coming:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// picture fills in how the site stands after this turn; nil where nobody asked
// for that.
func (l *Loop) picture(c safety.Command) *Picture {
	if !l.Publish {
		return nil
	}
	p := l.gallery.next()
	p.Number, p.At, p.Command, p.Names = int64(l.turns), time.Now(), c, &l.Names
	l.Controller.StatusInto(&p.Status)
	l.gallery.hang(p)
	return p
}
