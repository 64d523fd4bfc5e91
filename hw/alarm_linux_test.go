package hw

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAnAlarmEndsItsWaitAtTheInstantAndNotBefore(t *testing.T) {
	var a alarm
	for range 20 {
		until := sinceBoot() + time.Millisecond
		woken, set := a.wait(t.Context(), until, nil)
		require.True(t, set)
		assert.False(t, woken)
		if sinceBoot() < until { // an expiry from before may ring once
			_, set = a.wait(t.Context(), until, nil)
			require.True(t, set)
		}
		assert.GreaterOrEqual(t, sinceBoot(), until)
	}
}

// An alarm whose wait was ended early is set anew by the next one: the later
// instant holds, not the earlier.
func TestAnAlarmSetAnewForgetsTheInstantBefore(t *testing.T) {
	c := NewSystemClock()
	for range 3 {
		wake := make(chan struct{}, 1)
		wake <- struct{}{}
		require.NoError(t, c.Wait(t.Context(), c.Now().Mono+shortNap+time.Millisecond, wake))
		until := c.Now().Mono + shortNap + 2*time.Millisecond
		require.NoError(t, c.Wait(t.Context(), until, nil)) // on a busy machine the wake may be there still
		assert.GreaterOrEqual(t, c.Now().Mono, until)
	}
}

// Each wake is answered before the next, so that one lost for good would hang
// the test.
func TestEveryWakeEndsAWaitWhicheverComesFirst(t *testing.T) {
	c := NewSystemClock()
	wake, answer := make(chan struct{}, 1), make(chan struct{})
	go func() {
		for range 1000 {
			wake <- struct{}{}
			<-answer
		}
	}()
	for range 1000 {
		require.NoError(t, c.Wait(t.Context(), c.Now().Mono+time.Hour, wake))
		answer <- struct{}{}
	}
}

func TestTheEndOfItsContextEndsAWaitOnTheMachinesClock(t *testing.T) {
	c := NewSystemClock()
	for range 100 {
		ctx, cancel := context.WithCancel(t.Context())
		go cancel()
		assert.ErrorIs(t, c.Wait(ctx, c.Now().Mono+time.Hour, nil), context.Canceled)
	}
}

// The second one finds the alarm taken, and waits on a timer of the runtime's.
func TestTwoMayWaitForTheMachinesClockAtOnce(t *testing.T) {
	c := NewSystemClock()
	wake := make(chan struct{})
	var all sync.WaitGroup
	all.Go(func() { assert.NoError(t, c.Wait(t.Context(), c.Now().Mono+time.Hour, wake)) })
	for range 3 {
		until := c.Now().Mono + shortNap + time.Millisecond
		require.NoError(t, c.Wait(t.Context(), until, nil))
		assert.GreaterOrEqual(t, c.Now().Mono, until)
	}
	wake <- struct{}{}
	all.Wait()
}

func TestWithoutATimerOfTheKernelsAWaitEndsAllTheSame(t *testing.T) {
	var a alarm
	a.open.Do(func() {}) // as when there is none to give
	m := systemMachine()
	m.wait = a.wait
	c := newSystemClock(m)
	until := c.Now().Mono + shortNap + time.Millisecond
	require.NoError(t, c.Wait(t.Context(), until, nil))
	assert.GreaterOrEqual(t, c.Now().Mono, until)
}
