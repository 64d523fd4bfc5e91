package loop

import (
	"context"
	"errors"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/hw"
	"benchtide/safety"
	"benchtide/schedule"
)

// fakeBoard has one bench whose FULL is made after four minutes of pumping and
// clears two minutes after the stop.
type fakeBoard struct {
	clock   *fakeClock
	command safety.Command
	since   time.Duration
	applied int
	fail    bool
	refused int // Commands that it did not obey
	panics  bool
	reads   func() // called by each Read
	before  func() // called by each Apply before it takes effect
	after   func() // and after
	deaf    error  // of an output that never obeys
}

func (b *fakeBoard) Read(now safety.Now, r *safety.Readings) {
	if b.panics {
		panic("a defect")
	}
	call(b.reads)
	on := now.Mono - b.since
	full := b.command.On(1) && on >= 4*time.Minute || !b.command.On(1) && b.since > 0 && on < 2*time.Minute
	r.Benches[0].Full = safety.Reading{Level: safety.Dry, At: now.Mono}
	if full {
		r.Benches[0].Full.Level = safety.Wet
	}
	r.Benches[0].High = safety.Reading{Level: safety.Dry, At: now.Mono}
}

func (b *fakeBoard) Apply(c safety.Command) error {
	b.applied++
	call(b.before)
	defer call(b.after)
	if b.fail && c.Any() {
		b.refused++
		return errors.New("line GPIO5 did not answer")
	}
	if c.On(1) != b.command.On(1) {
		b.since = b.clock.now.Mono
	}
	b.command = c
	return b.deaf
}

func call(f func()) {
	if f != nil {
		f()
	}
}

func (b *fakeBoard) NextRead(now time.Duration) time.Duration { return now + time.Second }
func (b *fakeBoard) Close() error                             { return nil }

// fakeClock jumps to what it is asked to wait for, and ends the run at end.
type fakeClock struct {
	now safety.Now
	end time.Duration
	at  func(safety.Now) // called before each wait
}

func (c *fakeClock) Now() safety.Now { return c.now }

func (c *fakeClock) Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error {
	if c.at != nil {
		c.at(c.now)
	}
	if c.now.Mono >= c.end {
		return context.Canceled
	}
	select {
	case <-wake:
		return ctx.Err()
	default:
	}
	d := max(0, until-c.now.Mono)
	c.now.Mono += d
	c.now.Wall = c.now.Wall.Add(d)
	return ctx.Err()
}

func limits() safety.Limits {
	return safety.Limits{
		Outputs: []safety.OutputLimits{
			{Name: "enable", Kind: safety.Enable, Enable: -1},
			{Name: "pump", Kind: safety.FloodPump, Enable: 0},
		},
		Reservoirs: []safety.ReservoirLimits{{Name: "tank", Usable: 200, Keep: 20}},
		Benches: []safety.BenchLimits{{
			Name: "north", Pump: 1, Full: true, High: true,
			Fill: 4 * time.Minute, Fall: 2 * time.Minute, Drain: 12 * time.Minute, Over: 6 * time.Minute,
			MaxHold: 8 * time.Minute, DailyRun: 2 * time.Hour, Flow: 0.3, Flood: 70,
		}},
	}
}

// newLoop is a loop that begins at 08:00 and ends after d; its bench floods at
// 09:00.
func newLoop(t *testing.T, d time.Duration) (*Loop, *fakeBoard, *fakeClock, *Memory) {
	clock := &fakeClock{now: safety.Now{Mono: time.Hour, Wall: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), Trusted: true}, end: time.Hour + d}
	board := &fakeBoard{clock: clock}
	nine, err := schedule.ParseTimeOfDay("09:00")
	require.NoError(t, err)
	plans := []schedule.Plan{{Name: "basil", Stages: []schedule.Stage{{At: []schedule.TimeOfDay{nine}, Hold: 6 * time.Minute, Strength: 0.5, CanWait: 48 * time.Hour}}}}
	batches := []schedule.Batch{{Name: "basil_spring", Transplanted: schedule.DateOf(2026, 3, 1)}}
	calendar, err := schedule.NewCalendar(schedule.Setup{Zone: time.UTC, Plans: plans, Batches: batches, Benches: 1})
	require.NoError(t, err)
	control, err := controller.New(controller.Setup{Limits: limits(), Calendar: calendar, Plans: plans, Batches: batches, Buzzer: -1}, clock.now)
	require.NoError(t, err)
	ledger := &Memory{}
	return New(Parts{
		Clock: clock, Board: board, Guard: safety.New(limits(), safety.State{}, clock.now, "boot"),
		Controller: control, Limits: limits(), Ledger: ledger, Boot: "boot",
	}), board, clock, ledger
}

func TestRunFloodsAndEndsWithAllOff(t *testing.T) {
	l, board, _, ledger := newLoop(t, 2*time.Hour)
	require.NoError(t, l.Run(t.Context()))
	require.Len(t, ledger.Floods, 1)
	assert.Equal(t, controller.Proven, ledger.Floods[0].Outcome)
	assert.False(t, board.command.Any())
}

func TestStopInMidFillPutsAllOffAndIsOnRecord(t *testing.T) {
	l, board, _, ledger := newLoop(t, time.Hour+2*time.Minute)
	require.NoError(t, l.Run(t.Context()))
	assert.False(t, board.command.Any())
	assert.Equal(t, controller.Interrupted, ledger.Floods[0].Outcome)
	assert.Equal(t, "the program was stopped", ledger.Floods[0].Reason)
	require.NotNil(t, ledger.Checkpoint)
	assert.Empty(t, ledger.Checkpoint.Controller.Open)
}

func TestOutputsAreOffBeforeAnythingElseAtTheStart(t *testing.T) {
	l, board, _, _ := newLoop(t, time.Hour)
	board.panics = true
	assert.PanicsWithValue(t, "a defect", func() { _ = l.Run(t.Context()) })
	assert.Equal(t, 2, board.applied, "once at the start, once on panic")
	assert.False(t, board.command.Any())
}

func TestPanicInMidFillPutsAllOff(t *testing.T) {
	l, board, clock, _ := newLoop(t, 2*time.Hour)
	clock.at = func(now safety.Now) { board.panics = board.command.On(1) }
	assert.Panics(t, func() { _ = l.Run(t.Context()) })
	assert.False(t, board.command.Any())
}

func TestBoardThatDoesNotObeyIsPutOffAndTold(t *testing.T) {
	l, board, _, ledger := newLoop(t, 3*time.Hour)
	board.fail = true
	var told []string
	l.Sinks = []Sink{sinkFunc(func(turn *Turn) {
		for _, e := range turn.Events {
			if e.Kind == controller.MessageSent {
				told = append(told, e.Message.Text)
			}
		}
	})}
	require.NoError(t, l.Run(t.Context()))
	assert.False(t, board.command.Any())
	require.NotEmpty(t, told)
	assert.Contains(t, told[0], "GPIO5")
	assert.NotEqual(t, controller.Proven, ledger.Floods[0].Outcome)
}

func TestAirThatDoesNotObeyStopsNoFlood(t *testing.T) {
	l, board, _, ledger := newLoop(t, 2*time.Hour)
	l.Limits.Outputs = append(l.Limits.Outputs, safety.OutputLimits{Name: "air", Enable: -1})
	board.deaf = &hw.OutputError{Output: 2, Name: "air", Err: errors.New("no answer")}
	var told []string
	l.Sinks = []Sink{sinkFunc(func(turn *Turn) {
		for _, e := range turn.Events {
			if e.Kind == controller.MessageSent {
				told = append(told, e.Message.Text)
			}
		}
	})}
	require.ErrorContains(t, l.Run(t.Context()), "check the relays by hand", "the end still says what may be on")
	assert.Equal(t, controller.Proven, ledger.Floods[0].Outcome)
	require.Len(t, told, 1, "once, not every turn")
	assert.Contains(t, told[0], `drive output "air"`)
}

func TestBrokenStorageNeitherStopsNorRecords(t *testing.T) {
	l, _, _, ledger := newLoop(t, 2*time.Hour)
	ledger.Broken = true
	proven := false
	l.Sinks = []Sink{sinkFunc(func(turn *Turn) {
		for _, e := range turn.Events {
			proven = proven || e.Kind == controller.FloodEnded && e.Flood.Outcome == controller.Proven && e.Flood.Unrecorded
		}
	})}
	require.NoError(t, l.Run(t.Context()))
	assert.True(t, proven)
	assert.Empty(t, ledger.Floods)
	assert.Positive(t, ledger.Lost)
}

func TestAliveIsCalledOnlyAfterTurnsThatReachedTheBoard(t *testing.T) {
	l, board, _, _ := newLoop(t, 90*time.Minute)
	board.fail = true
	alive := 0
	l.Alive = func() { alive++ }
	l.Sinks = []Sink{sinkFunc(func(turn *Turn) { assert.False(t, turn.Command.Any(), "what did not come about is not shown") })}
	turns := 0
	l.Clock.(*fakeClock).at = func(safety.Now) { turns++ }
	require.NoError(t, l.Run(t.Context()))
	assert.Positive(t, board.refused)
	assert.Equal(t, turns-board.refused, alive)
}

func TestDoRunsBetweenTurnsAndFailsAfterTheEnd(t *testing.T) {
	l, _, clock, ledger := newLoop(t, time.Hour)
	asked := make(chan error, 1)
	first := true
	clock.at = func(now safety.Now) {
		if first && now.Mono > time.Hour+20*time.Minute {
			first = false
			go func() {
				asked <- l.Do(context.Background(), Lapses, func(c Core) error { return c.Controller.Flood(c.Now, 0, 0) })
			}()
			for waiting(l) == 0 {
				runtime.Gosched()
			}
		}
	}
	require.NoError(t, l.Run(t.Context()))
	require.NoError(t, <-asked)
	assert.Equal(t, controller.ByHand, ledger.Floods[0].Cause)
	assert.ErrorIs(t, l.Do(context.Background(), Stands, func(Core) error { return nil }), ErrStopped)
}

func TestHeartbeatGivesAnOutageItsBeginning(t *testing.T) {
	l, _, clock, ledger := newLoop(t, 55*time.Minute)
	l.Heartbeat = 10 * time.Minute
	require.NoError(t, l.Run(t.Context()))
	assert.WithinDuration(t, clock.now.Wall, ledger.Checkpoint.Controller.Wall, 10*time.Minute)
}

type sinkFunc func(*Turn)

func (f sinkFunc) Turn(t *Turn) { f(t) }
