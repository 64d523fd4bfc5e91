package loop

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

func TestRunThatTheDeadManOvertookEndsAndLatches(t *testing.T) {
	type rig struct {
		l     *Loop
		board *fakeBoard
		clock *fakeClock
		bite  func() // once, when the pump has run for a while
	}
	for name, plant := range map[string]func(*rig){
		"between turns":                    func(r *rig) { r.clock.at = func(safety.Now) { r.bite() } },
		"while the switches are read":      func(r *rig) { r.board.reads = r.bite },
		"before the Command takes effect":  func(r *rig) { r.board.before = r.bite },
		"after the Command has taken hold": func(r *rig) { r.board.after = r.bite },
		"while sinks are told":             func(r *rig) { r.l.Sinks = append(r.l.Sinks, sinkFunc(func(*Turn) { r.bite() })) },
	} {
		t.Run(name, func(t *testing.T) {
			l, board, clock, ledger := newLoop(t, time.Hour+30*time.Minute)
			bitten := time.Duration(0)
			r := &rig{l: l, board: board, clock: clock}
			r.bite = func() {
				if ran := clock.now.Mono - board.since; bitten == 0 && board.command.On(1) && ran > time.Minute {
					bitten = clock.now.Mono
					l.dog.act()
				}
			}
			var turns []Turn
			l.Sinks = []Sink{sinkFunc(func(turn *Turn) {
				if bitten > 0 {
					assert.False(t, turn.Command.On(1), "no turn takes the pump for running after it")
					assert.False(t, board.command.Any(), "and nothing is energised")
					turns = append(turns, *turn)
				}
			})}
			plant(r)
			require.NoError(t, l.Run(t.Context()))
			require.NotZero(t, bitten, "the pump ran and the dead-man acted")
			require.NotEmpty(t, turns)
			require.Len(t, ledger.Floods, 1)
			assert.Equal(t, controller.Unproven, ledger.Floods[0].Outcome, "FULL was never made")
			assert.Contains(t, ledger.Floods[0].Reason, "stalled")
			latched := ledger.Checkpoint.Guard.Benches["north"].Latched
			require.Len(t, latched, 1)
			assert.Equal(t, safety.Stalled, latched[0].Interlock)
			runs := ledger.Checkpoint.Guard.Benches["north"].Runs
			assert.LessOrEqual(t, runs[0].Stop-bitten, time.Second, "the run ends in the turn that was overtaken, or the next")
		})
	}
}

func TestDeadManPutsAllOffUntilATurnComes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var board countingBoard
		d := newDeadMan(&board, true)
		d.watch(10*time.Millisecond, true)
		wait(10*time.Millisecond + deadManAfter - time.Nanosecond)
		assert.EqualValues(t, 0, board.zeros.Load(), "one step before")
		wait(time.Nanosecond)
		assert.EqualValues(t, 1, board.zeros.Load())
		wait(2 * deadManAfter)
		assert.EqualValues(t, 3, board.zeros.Load(), "a Command that came late does not last")
		assert.True(t, d.bit(), "the command of the turn it overtook is void")
		assert.False(t, d.bit())
		d.watch(time.Second, false)
		wait(time.Hour)
		assert.EqualValues(t, 3, board.zeros.Load(), "with nothing running it rests")
		d.watch(time.Second, true)
		d.rest()
		d.act()
		wait(time.Hour)
		assert.EqualValues(t, 4, board.zeros.Load(), "a rest that comes while it acts is kept")
	})
}

// wait has fake time pass.
func wait(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

// A board that hangs in the very Apply that switches a pump on is put off, too.
func TestDeadManWatchesTheFirstTurnOfARun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, board, clock, ledger := newLoop(t, 2*time.Hour)
		zeros := countingBoard{}
		l.dog = newDeadMan(&zeros, true)
		hung := false
		board.after = func() {
			if board.command.On(1) && !hung {
				hung = true
				wait(3*deadManAfter + deadManAfter/2)
				assert.EqualValues(t, 3, zeros.zeros.Load())
				clock.now.Mono += 3*deadManAfter + deadManAfter/2
			}
		}
		require.NoError(t, l.Run(context.Background()))
		require.True(t, hung)
		assert.Equal(t, safety.Stalled, ledger.Checkpoint.Guard.Benches["north"].Latched[0].Interlock)
		before := zeros.zeros.Load()
		wait(time.Hour)
		assert.Equal(t, before, zeros.zeros.Load(), "it rests after the end")
	})
}

// A turn that does not come while a pump runs is noticed a second after it was
// due, and while nothing runs never.
func TestDeadManWaitsForTheTurnThatWasPlanned(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, board, clock, _ := newLoop(t, 2*time.Hour)
		zeros := countingBoard{}
		l.dog = newDeadMan(&zeros, true)
		idle, ran, after := false, false, false
		hour := func() {
			before := zeros.zeros.Load()
			wait(time.Hour)
			assert.Equal(t, before, zeros.zeros.Load(), "nothing runs: it rests")
		}
		clock.at = func(now safety.Now) {
			on := board.command.Any()
			switch {
			case !on && !idle && l.turns > 3:
				idle = true
				hour()
			case board.command.On(1) && !ran && now.Mono-board.since > time.Minute:
				ran = true
				due := l.planned - now.Mono
				require.Positive(t, due)
				wait(due + deadManAfter - time.Nanosecond)
				assert.EqualValues(t, 0, zeros.zeros.Load(), "one step before")
				wait(time.Nanosecond)
				assert.EqualValues(t, 1, zeros.zeros.Load())
			case !on && ran && !after:
				after = true
				hour()
			}
		}
		require.NoError(t, l.Run(context.Background()))
		require.True(t, idle && ran && after)
	})
}

// A board that hangs in the very Apply of a stop is put off from beside it.
func TestDeadManWatchesTheStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, board, clock, _ := newLoop(t, 3*time.Hour)
		zeros := countingBoard{}
		l.dog = newDeadMan(&zeros, true)
		hung := false
		clock.at = func(now safety.Now) {
			if board.command.On(1) && now.Mono-board.since > time.Minute {
				clock.end = now.Mono
				board.before = func() {
					hung = true
					wait(time.Minute)
					assert.Positive(t, zeros.zeros.Load())
				}
			}
		}
		require.NoError(t, l.Run(context.Background()))
		require.True(t, hung)
	})
}

// However a run of the loop ends, its dead-man acts on no board any more: that
// may be closed, or be the next program's.
func TestDeadManRestsAfterALoopThatEndedWithAPumpOn(t *testing.T) {
	for name, end := range map[string]func(*Loop, *fakeBoard, *fakeClock){
		"a stop":  func(_ *Loop, _ *fakeBoard, c *fakeClock) { c.end = c.now.Mono },
		"a panic": func(_ *Loop, b *fakeBoard, _ *fakeClock) { b.panics = true },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, board, clock, _ := newLoop(t, 3*time.Hour)
				zeros := countingBoard{}
				l.dog = newDeadMan(&zeros, true)
				ended := false
				clock.at = func(now safety.Now) {
					if board.command.On(1) && now.Mono-board.since > time.Minute {
						ended = true
						end(l, board, clock)
					}
				}
				func() {
					defer func() { _ = recover() }()
					_ = l.Run(context.Background())
				}()
				require.True(t, ended)
				assert.False(t, board.command.Any())
				before := zeros.zeros.Load()
				wait(time.Hour)
				assert.Equal(t, before, zeros.zeros.Load())
			})
		})
	}
}

// countingBoard counts the zero Commands it gets.
type countingBoard struct{ zeros atomic.Int32 }

func (b *countingBoard) Apply(c safety.Command) error {
	if !c.Any() {
		b.zeros.Add(1)
	}
	return nil
}

// hangingBoard answers no zero Command before it is let go.
type hangingBoard struct{ answer chan struct{} }

func (b hangingBoard) Apply(safety.Command) error {
	<-b.answer
	return nil
}

// A turn that comes while the dead-man is still at the board is told of it, else
// its command could follow the zero one.
func TestATurnIsToldOfTheDeadManThatTheBoardKeepsWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		board := hangingBoard{make(chan struct{})}
		d := newDeadMan(board, true)
		d.watch(0, true)
		wait(deadManAfter)
		assert.True(t, d.bit(), "it has begun to put all off")
		d.rest()
		close(board.answer)
		synctest.Wait()
		assert.False(t, d.bit())
	})
}
