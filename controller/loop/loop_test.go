package loop

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
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

// At the stop the outputs go off before anything else: no book is closed, no
// request done and nothing recorded while a pump may run.
func TestOutputsAreOffBeforeAnythingElseAtTheStop(t *testing.T) {
	l, board, clock, ledger := newLoop(t, time.Hour+2*time.Minute)
	var order []string
	note := func(what string) {
		if clock.now.Mono >= clock.end {
			order = append(order, what)
		}
	}
	stands := func(Core) error { note("a request"); return nil }
	clock.at = func(now safety.Now) {
		if now.Mono >= clock.end {
			require.True(t, board.command.On(1), "it stops in mid-fill")
			l.requests.add(&request{do: stands, fate: Stands, done: make(chan error, 1)})
			board.before = func() {
				note("the outputs")
				var st controller.Status
				l.Controller.StatusInto(&st)
				assert.Equal(t, controller.Filling, st.Benches[0].Phase, "the flood is not settled before the pump is off")
			}
		}
	}
	l.Sinks = []Sink{sinkFunc(func(*Turn) { note("the sinks") })}
	l.Ledger = noting{ledger, func() { note("the record") }}
	require.NoError(t, l.Run(t.Context()))
	require.GreaterOrEqual(t, len(order), 4)
	order = order[len(order)-4:]
	assert.Equal(t, []string{"the outputs", "a request", "the record", "the sinks"}, order)
	assert.False(t, board.command.Any())
}

// noting is a Ledger that tells when it is handed something.
type noting struct {
	*Memory
	note func()
}

func (n noting) Record(events []controller.Event, cp *Checkpoint) {
	n.note()
	n.Memory.Record(events, cp)
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
	assert.Contains(t, told[0], "drive output air")
}

// A program that is ended because an expander has lost its plug can do no more
// after that than before.
func TestOnlyWhatARestartCanMendKeepsTheWatchdogUnfed(t *testing.T) {
	for name, tt := range map[string]struct {
		err error
		fed bool
	}{
		"none":             {nil, true},
		"behind a bus":     {&hw.OutputError{Output: 0, Behind: true, Err: errors.New("no answer")}, true},
		"the processor's":  {&hw.OutputError{Output: 0, Err: errors.New("no answer")}, false},
		"both":             {errors.Join(&hw.OutputError{Output: 0, Behind: true, Err: errors.New("no answer")}, &hw.OutputError{Output: 1, Err: errors.New("no answer")}), false},
		"no output's":      {errors.New("no answer"), false},
		"air behind a bus": {&hw.OutputError{Output: 2, Behind: true, Err: errors.New("no answer")}, true},
		"air of its own":   {&hw.OutputError{Output: 2, Err: errors.New("no answer")}, true},
	} {
		t.Run(name, func(t *testing.T) {
			l, board, _, _ := newLoop(t, time.Minute)
			l.Limits.Outputs = append(l.Limits.Outputs, safety.OutputLimits{Name: "air", Enable: -1})
			board.deaf = tt.err
			fed := 0
			l.Alive = func() { fed++ }
			_ = l.Run(t.Context()) // its end says what may be on
			assert.Equal(t, tt.fed, fed > 0)
		})
	}
}

// An output that obeys again, which is told too, and then no more is a new trouble, and so is another
// output beside one that is known to be deaf.
func TestAnOutputThatGoesDeafAgainIsToldAgain(t *testing.T) {
	l, board, clock, _ := newLoop(t, 50*time.Minute)
	for i, name := range []string{"air", "lamp"} {
		l.Limits.Outputs = append(l.Limits.Outputs, safety.OutputLimits{Name: name, Enable: -1})
		require.Equal(t, i+2, len(l.Limits.Outputs)-1)
	}
	air := &hw.OutputError{Output: 2, Name: "air", Err: errors.New("no answer")}
	lamp := &hw.OutputError{Output: 3, Name: "lamp", Err: errors.New("no answer")}
	begin := clock.now.Mono
	clock.at = func(now safety.Now) {
		board.deaf = [...]error{nil, air, nil, air, errors.Join(air, lamp), lamp, errors.Join(lamp, air), nil, nil, nil}[(now.Mono-begin)/(5*time.Minute)%10]
	}
	var told []string
	l.Sinks = []Sink{sinkFunc(func(turn *Turn) {
		for _, e := range turn.Events {
			if e.Kind == controller.MessageSent {
				told = append(told, fmt.Sprintf("%.0f min: %s", (e.At.Mono-begin).Minutes(), e.Message.Text))
			}
		}
	})}
	require.NoError(t, l.Run(t.Context()))
	require.Len(t, told, 6, "%q", told)
	for i, want := range []string{
		"5 min: An output does not obey (drive output air; no answer)", "10 min: Every output obeys again.",
		"15 min: An output does not obey (drive output air; no answer)", "20 min: An output does not obey (drive output lamp; no answer)",
		"30 min: An output does not obey (drive output air; no answer)", "35 min: Every output obeys again.",
	} {
		assert.True(t, strings.HasPrefix(told[i], want), "%q", told[i])
	}
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

// Checkpoints without a change come at one pace for ever: the beat goes on from
// the last one, whatever that was for.
func TestTheHeartbeatKeepsItsPace(t *testing.T) {
	l, _, clock, ledger := newLoop(t, 5*time.Hour)
	l.Heartbeat = 7 * time.Minute
	var at []time.Duration
	l.Ledger = counting{ledger, func(cp *Checkpoint) {
		if cp != nil {
			at = append(at, clock.now.Mono)
		}
	}}
	require.NoError(t, l.Run(t.Context()))
	require.Greater(t, len(at), 40)
	alone := 0
	for i := 1; i < len(at); i++ {
		gap := at[i] - at[i-1]
		require.LessOrEqual(t, gap, l.Heartbeat, "none comes late")
		if gap == l.Heartbeat {
			alone++
		}
	}
	assert.LessOrEqual(t, len(at)-alone, 15, "the rest belong to the one flood, the start and the end")
}

// counting is a Ledger that tells of each checkpoint it is handed.
type counting struct {
	*Memory
	told func(*Checkpoint)
}

func (c counting) Record(events []controller.Event, cp *Checkpoint) {
	c.told(cp)
	c.Memory.Record(events, cp)
}

type sinkFunc func(*Turn)

func (f sinkFunc) Turn(t *Turn) { f(t) }

func TestEveryOutputOfAPumpCircuitMatters(t *testing.T) {
	for kind, matters := range map[safety.OutputKind]bool{
		safety.Other: false, safety.FloodPump: true, safety.Stirrer: true, safety.Enable: true,
	} {
		l, _, _, _ := newLoop(t, time.Hour)
		l.Limits.Outputs = append(l.Limits.Outputs, safety.OutputLimits{Name: "another", Kind: kind, Enable: -1})
		deaf := &hw.OutputError{Output: 2, Name: "another", Err: errors.New("no answer")}
		assert.Equal(t, matters, l.inPumpCircuit(deaf), "output of kind %d", kind)
		assert.Equal(t, matters, l.inPumpCircuit(errors.Join(&hw.OutputError{Output: 2}, deaf)), "output of kind %d", kind)
	}
	l, _, _, _ := newLoop(t, time.Hour)
	assert.True(t, l.inPumpCircuit(errors.New("the board is gone")), "nobody knows of which output")
	assert.False(t, l.inPumpCircuit(nil))
}

func TestABoardThatObeysAgainIsLeftInPeace(t *testing.T) {
	l, board, clock, _ := newLoop(t, 90*time.Minute)
	board.fail = true
	turns, quiet := 0, 0
	clock.at = func(now safety.Now) {
		board.fail = board.refused == 0
		turns++
		if now.Mono > time.Hour+80*time.Minute {
			quiet++
		}
	}
	require.NoError(t, l.Run(t.Context()))
	require.Equal(t, 1, board.refused)
	assert.LessOrEqual(t, quiet, 10*60+5, "a turn when the board wants to be read, and no more: of %d", turns)
}
