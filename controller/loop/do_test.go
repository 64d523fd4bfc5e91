package loop

import (
	"context"
	"errors"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

// waiting is how many requests wait for the loop.
func waiting(l *Loop) int {
	l.requests.mu.Lock()
	defer l.requests.mu.Unlock()
	return len(l.requests.list)
}

func TestWhatLapsesNeverHappensAfterItsAskerWasToldNo(t *testing.T) {
	l, _, _, _ := newLoop(t, time.Hour)
	ctx, cancel := context.WithCancelCause(t.Context())
	gone := errors.New("gone")
	cancel(gone)
	for range 100 {
		ran := 0
		err := l.Do(ctx, Lapses, func(Core) error { ran++; return nil })
		require.ErrorIs(t, err, ErrNotDone)
		require.ErrorIs(t, err, gone)
		l.serve()
		require.Zero(t, ran)
	}
}

func TestWhatStandsHappensOnceItWasHandedOver(t *testing.T) {
	l, _, _, _ := newLoop(t, time.Hour)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for range 100 {
		ran := 0
		err := l.Do(ctx, Stands, func(Core) error { ran++; return nil })
		require.ErrorIs(t, err, ErrNotKnown)
		require.NotErrorIs(t, err, ErrNotDone)
		l.serve()
		l.serve()
		require.Equal(t, 1, ran)
	}
}

func TestRequestsOfALoopThatEnds(t *testing.T) {
	l, board, clock, ledger := newLoop(t, time.Hour)
	ctx, cancel := context.WithCancel(t.Context())
	clock.at = func(safety.Now) { cancel() }
	pump := make(chan error, 1)
	hands := make(chan error, 1)
	go func() { pump <- l.Do(context.Background(), Lapses, func(Core) error { panic("not any more") }) }()
	go func() {
		hands <- l.Do(context.Background(), Stands, func(c Core) error {
			assert.False(t, board.command.Any(), "outputs are off before anything else")
			c.Guard.SetHandsIn(c.Now, true)
			return nil
		})
	}()
	for waiting(l) < 2 {
		runtime.Gosched()
	}
	require.NoError(t, l.Run(ctx))
	err := <-pump
	require.ErrorIs(t, err, ErrNotDone)
	require.ErrorIs(t, err, ErrStopped)
	require.NoError(t, <-hands)
	require.NotNil(t, ledger.Checkpoint)
	assert.True(t, ledger.Checkpoint.Guard.HandsIn, "it is on record")
	assert.ErrorIs(t, l.Do(context.Background(), Stands, func(Core) error { return nil }), ErrNotDone)
}

func TestARequestOfWhichTheLoopDiesIsNotKnown(t *testing.T) {
	l, _, _, _ := newLoop(t, time.Hour)
	asked := make(chan error, 2)
	go func() { asked <- l.Do(context.Background(), Lapses, func(Core) error { panic("a defect") }) }()
	for waiting(l) < 1 {
		runtime.Gosched()
	}
	go func() { asked <- l.Do(context.Background(), Stands, func(Core) error { panic("never begun") }) }()
	for waiting(l) < 2 {
		runtime.Gosched()
	}
	assert.PanicsWithValue(t, "a defect", func() { _ = l.Run(t.Context()) })
	first, second := <-asked, <-asked
	if errors.Is(first, ErrNotDone) {
		first, second = second, first
	}
	assert.ErrorIs(t, first, ErrNotKnown)
	assert.ErrorIs(t, second, ErrNotDone)
}

// idleClock waits for what wakes it, at once.
type idleClock struct{ mono atomic.Int64 }

func (c *idleClock) Now() safety.Now {
	at := time.Duration(c.mono.Add(int64(time.Millisecond)))
	return safety.Now{Mono: at, Wall: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC).Add(at), Trusted: true}
}

func (c *idleClock) Wait(ctx context.Context, _ time.Duration, wake <-chan struct{}) error {
	select {
	case <-wake:
		return ctx.Err()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// asked is one request and what came of it.
type asked struct {
	fate Fate
	ran  atomic.Int32
	err  error
	own  error
}

// verdict says what is wrong with what its asker was told.
func (a *asked) verdict() string {
	ran := a.ran.Load()
	switch {
	case ran > 1:
		return "done twice"
	case errors.Is(a.err, ErrNotDone) && ran > 0:
		return "told that it was not done, and it was"
	case errors.Is(a.err, ErrNotDone) && a.fate == Stands && !errors.Is(a.err, ErrStopped):
		return "what stands was given up"
	case errors.Is(a.err, ErrNotKnown) && (ran == 0 || a.fate == Lapses):
		return "told that nobody knows"
	case !errors.Is(a.err, ErrNotDone) && !errors.Is(a.err, ErrNotKnown) && (ran == 0 || !errors.Is(a.err, a.own)):
		return "told that it was done, and it was not"
	}
	return ""
}

// Askers that go at any moment race a loop that ends at any moment.
func TestAskersRaceTheLoop(t *testing.T) {
	var done, notDone, notKnown int
	rounds := 200
	if testing.Short() {
		rounds = 50
	}
	for range rounds {
		l, _, _, _ := newLoop(t, time.Hour)
		l.Clock = &idleClock{}
		ctx, end := context.WithCancel(t.Context())
		list := make([]asked, 50)
		var askers, loop sync.WaitGroup
		for i := range list {
			a := &list[i]
			a.fate, a.own = Fate(rand.IntN(2)), []error{nil, errors.New("refused")}[rand.IntN(2)]
			until, spins := rand.IntN(3), rand.IntN(200)
			askers.Go(func() {
				ctx, cancel := context.WithCancel(context.Background())
				defer cancel()
				gone := make(chan struct{})
				go func() {
					defer close(gone)
					for range spins {
						runtime.Gosched()
					}
					if until > 0 {
						cancel()
					}
				}()
				a.err = l.Do(ctx, a.fate, func(Core) error {
					a.ran.Add(1)
					return a.own
				})
				<-gone
			})
		}
		loop.Go(func() { require.NoError(t, l.Run(ctx)) })
		for range rand.IntN(300) {
			runtime.Gosched()
		}
		end()
		askers.Wait()
		loop.Wait()
		for i := range list {
			a := &list[i]
			require.Empty(t, a.verdict(), "fate %d: %v", a.fate, a.err)
			switch {
			case errors.Is(a.err, ErrNotDone):
				notDone++
			case errors.Is(a.err, ErrNotKnown):
				notKnown++
			default:
				done++
			}
		}
	}
	t.Logf("%d done, %d not done, %d not known", done, notDone, notKnown)
	assert.Positive(t, done)
	assert.Positive(t, notDone)
}
