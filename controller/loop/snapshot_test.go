package loop

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

// fill makes a snapshot in which every part says of which turn it is.
func fill(p *Snapshot, n int64) {
	p.Number = n
	p.Status.Now.Mono = time.Duration(n)
	p.Status.Batches = append(p.Status.Batches[:0], make([]controller.BatchStatus, 3)...)
	for i := range p.Status.Batches {
		p.Status.Batches[i].Since = time.Duration(n)
	}
}

func whole(p *Snapshot) bool {
	same := p.Status.Now.Mono == time.Duration(p.Number)
	for _, b := range p.Status.Batches {
		same = same && b.Since == time.Duration(p.Number)
	}
	return same
}

// With -race this finds memory that is written over while somebody looks.
func TestASnapshotThatSomebodyLooksAtIsNotWrittenOver(t *testing.T) {
	var g published
	stop := make(chan struct{})
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			var held []*Snapshot
			for newest := int64(0); ; {
				select {
				case <-stop:
					for _, p := range held {
						assert.True(t, whole(p))
					}
					return
				default:
				}
				p := g.latest()
				if p == nil {
					continue
				}
				if !assert.True(t, whole(p)) || !assert.GreaterOrEqual(t, p.Number, newest) {
					return
				}
				newest = p.Number
				if held = append(held, p); len(held) > 100 {
					held = held[50:]
				}
			}
		})
	}
	for n := range int64(50_000) {
		p := g.next()
		fill(p, n+1)
		g.publish(p)
		g.tell()
	}
	close(stop)
	all.Wait()
}

func TestSnapshotsThatNobodyLooksAtTakeTurnsInTheSameMemory(t *testing.T) {
	var g published
	n := int64(0)
	turn := func() {
		n++
		p := g.next()
		p.Number = n
		g.publish(p)
		g.tell()
	}
	turn()
	turn()
	assert.Zero(t, testing.AllocsPerRun(100, turn))
	p := g.latest()
	was := p.Number
	turn()
	turn()
	turn()
	assert.Equal(t, was, p.Number)
}

func TestWhoeverWaitsForATurnIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &Loop{Parts: Parts{Publish: true}}
		got := make(chan int64, 8)
		for range 8 {
			go func() {
				p, err := l.After(t.Context(), 1)
				assert.NoError(t, err)
				got <- p.Number
			}()
		}
		for n := int64(1); n <= 2; n++ {
			synctest.Wait()
			assert.Empty(t, got)
			p := l.published.next()
			p.Number = n
			l.published.publish(p)
			l.published.tell()
		}
		synctest.Wait()
		assert.Len(t, got, 8)
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		_, err := l.After(ctx, 2)
		assert.ErrorIs(t, err, context.DeadlineExceeded)
	})
}

func TestALoopPublishesWhenAskedTo(t *testing.T) {
	for _, publish := range []bool{true, false} {
		var seen []*Snapshot
		l, _, _, _ := newLoop(t, time.Hour)
		l.Publish, l.Names.Benches = publish, []string{"north"}
		l.Sinks = append(l.Sinks, sinkFunc(func(turn *Turn) {
			assert.Equal(t, []string{"north"}, turn.Names.Benches)
			if turn.Snapshot != nil {
				seen = append(seen, turn.Snapshot.Keep())
				assert.Same(t, turn.Snapshot, l.Snapshot(), "a sink sees what everybody does")
			}
		}))
		require.Nil(t, l.Snapshot())
		for range 3 {
			l.Turn()
		}
		if !publish {
			assert.Empty(t, seen)
			assert.Nil(t, l.Snapshot())
			continue
		}
		require.Len(t, seen, 3)
		for i, p := range seen {
			assert.EqualValues(t, i+1, p.Number)
			assert.Len(t, p.Status.Benches, 1)
			assert.Equal(t, safety.Command{}, p.Command)
		}
	}
}
