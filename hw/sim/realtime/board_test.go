package realtime

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/hw"
	"benchtide/safety"
)

var _ hw.Board = (*Board)(nil)

// handClock is a real clock that a test moves.
type handClock struct{ now safety.Now }

func (c *handClock) Now() safety.Now { return c.now }

func (c *handClock) Wait(context.Context, time.Duration, <-chan struct{}) error { return nil }

func (c *handClock) moveTo(mono time.Duration) {
	c.now.Wall = c.now.Wall.Add(mono - c.now.Mono)
	c.now.Mono = mono
}

// The polled turns of a real board, with a flood in between: every 10 ms while
// the enable relay is closed, every 250 ms otherwise.
func TestABenchBesideARealClockIsPolledAndProvesItsFlood(t *testing.T) {
	site := exampleSite(t)
	clock := &handClock{safety.Now{Mono: 3 * time.Hour, Wall: begin.Add(11 * time.Minute).UTC(), Trusted: true}}
	world, err := rehearse.NewWorld(site, clock.now.Wall)
	require.NoError(t, err)
	setup, err := rehearse.Setup(site)
	require.NoError(t, err)
	c, err := controller.New(setup, clock.now)
	require.NoError(t, err)
	board, ledger := NewBoard(world, clock, setup.Limits), &loop.Memory{}
	l := loop.New(loop.Parts{
		Clock: clock, Board: board, Controller: c, Limits: setup.Limits, Ledger: ledger,
		Guard: safety.New(setup.Limits, safety.State{}, clock.now, ""),
	})

	periods := map[time.Duration]int{}
	end := clock.now.Mono + 40*time.Minute
	for clock.now.Mono < end {
		next := l.Turn()
		periods[board.NextRead(0)]++
		require.LessOrEqual(t, next-clock.now.Mono, periodIdle)
		clock.moveTo(next)
	}
	require.Len(t, ledger.Floods, 1)
	assert.Equal(t, controller.Proven, ledger.Floods[0].Outcome)
	assert.Greater(t, periods[periodActive], 50_000)
	assert.Greater(t, periods[periodIdle], 3_000)
	assert.InDelta(t, 40*time.Minute, world.Elapsed(), float64(periodIdle), "the world is as old as the daemon, to the turn")
	require.NoError(t, board.Close())
}
