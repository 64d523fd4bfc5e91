package ledger

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

func TestRecordNeverWaitsForStorageThatTakesFiveSecondsASync(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		slow := atomic.Bool{}
		l, _, err := Open(t.TempDir(), Options{Limits: limits, Fault: func(step string) error {
			if step == "commit" && slow.Load() {
				time.Sleep(5 * time.Second)
			}
			return nil
		}})
		require.NoError(t, err)
		woken := make(chan time.Duration, 1)
		start := time.Now()
		l.OnAcknowledged(func() { woken <- time.Since(start) })
		slow.Store(true)
		for turn := range 200 { // of 10 ms each, while the first write is under way
			l.Record([]controller.Event{floodEvent(controller.FloodIntended, intended(aFlood(int64(turn+1))), noon(1))}, aCheckpoint())
			require.Empty(t, l.Acknowledged())
			time.Sleep(10 * time.Millisecond)
		}
		require.Equal(t, 2*time.Second, time.Since(start), "200 turns took their own time and no more")
		assert.Equal(t, 5*time.Second, <-woken)
		assert.Len(t, l.Acknowledged(), 1)
		assert.Equal(t, 10*time.Second, <-woken, "all that came meanwhile went in one write")
		assert.Len(t, l.Acknowledged(), 199)
		require.NoError(t, l.Close())
	})
}

func TestRoutineRowsGoTogetherEachQuarterOfAnHour(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		var commits []time.Duration
		start := time.Now()
		l, _, err := Open(t.TempDir(), Options{Limits: limits, Fault: func(step string) error {
			if step == "committed" {
				commits = append(commits, time.Since(start))
			}
			return nil
		}})
		require.NoError(t, err)
		for range 90 {
			l.Record([]controller.Event{switchEvent(noon(1))}, nil)
			time.Sleep(14 * time.Second)
		}
		time.Sleep(time.Hour)
		require.NoError(t, l.Close())
		assert.Equal(t, []time.Duration{15 * time.Minute, 30*time.Minute + 10*time.Second}, commits, "and an idle hour writes nothing")
	})
}

func switchEvent(now safety.Now) controller.Event {
	return controller.Event{Kind: controller.GuardActed, At: now, Bench: 0, Output: -1,
		Guard: safety.Event{Kind: safety.SwitchChanged, Bench: 0, Switch: "full", Level: safety.Wet}}
}

// failing is a storage that can be made to fail at a step.
type failing struct{ step atomic.Value }

func (f *failing) fault(step string) error {
	if bad, _ := f.step.Load().(string); bad == step {
		return errors.New("the card does not answer")
	}
	return nil
}

func TestWhateverStepFailsTheLedgerCatchesUpWithoutLossOrDouble(t *testing.T) {
	t.Parallel()
	for _, step := range []string{"begin", "floods", "rows", "outputs", "checkpoint", "prune", "commit"} {
		t.Run(step, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var f failing
				l, _, err := Open(t.TempDir(), Options{Limits: limits, Zone: dublin, Fault: f.fault})
				require.NoError(t, err)
				f.step.Store(step)
				at := noon(1)
				for id := range int64(3) {
					l.Record([]controller.Event{
						floodEvent(controller.FloodIntended, intended(aFlood(id+1)), at),
						{Kind: controller.OutputChanged, At: at, Bench: -1, Output: 0, On: true},
						{Kind: controller.OutputChanged, At: later(at, time.Minute), Bench: -1, Output: 0},
						floodEvent(controller.FloodEnded, aFlood(id+1), later(at, time.Minute)),
					}, aCheckpoint())
					at = later(at, 2*time.Minute)
					time.Sleep(2 * time.Minute)
				}
				s := l.Stats()
				require.ErrorContains(t, s.Trouble, "the card does not answer")
				assert.Positive(t, s.Errors)
				assert.Equal(t, 3+12, s.Waiting, "3 floods, and 4 events of each")
				assert.Empty(t, l.Acknowledged())
				rows, _ := l.Floods(t.Context(), Query{})
				assert.Len(t, rows, 3, "what only memory knows is shown")

				f.step.Store("")
				time.Sleep(lastRetry)
				synctest.Wait()
				s = l.Stats()
				require.NoError(t, s.Trouble)
				assert.Zero(t, s.Waiting)
				assert.Len(t, l.Acknowledged(), 3)
				rows, err = l.Floods(t.Context(), Query{})
				require.NoError(t, err)
				assert.Len(t, rows, 3)
				details, err := list(t.Context(), l, &details, Query{})
				require.NoError(t, err)
				assert.Len(t, details, 12)
				ran, err := list(t.Context(), l, &outputs, Query{})
				require.NoError(t, err)
				assert.Equal(t, []Output{{Date: "2026-07-01", Output: "pump", RunS: 180, Starts: 3}}, ran)
				require.NoError(t, l.Close())
			})
		})
	}
}

func TestAWriteThatFailedAndIsOnStorageNonethelessIsNotDoubled(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits})
	require.NoError(t, l.Close())
	s := &l.store
	b := batch{rows: []row{eventRow(noon(1).Wall, "message", "", 0, "once")}}
	b.addFlood(flood{aFlood(1), "north"})
	b.addRun(dayOutput{"2026-07-01", "pump"}, run{on: time.Minute, starts: 1})
	require.NoError(t, s.ready())
	stored, newest := s.stored, s.newest
	require.NoError(t, s.write(&b))
	s.stored, s.newest, s.totals[dayOutput{"2026-07-01", "pump"}] = stored, newest, run{} // what it knows after a failure
	s.close()

	require.NoError(t, s.write(&b))
	var events, floods, ran int
	require.NoError(t, s.db.QueryRow("SELECT (SELECT count(*) FROM events), (SELECT count(*) FROM floods), (SELECT run FROM outputs)").Scan(&events, &floods, &ran))
	assert.Equal(t, []int{1, 1, 60_000}, []int{events, floods, ran})
	s.close()
}

func TestAFullCardHoldsNothingUpAndIsCaughtUpWith(t *testing.T) {
	t.Parallel()
	testTrouble(t, "database or disk is full", "PRAGMA max_page_count = 1", "PRAGMA max_page_count = 1000000")
}

func TestReadOnlyStorageHoldsNothingUpAndIsCaughtUpWith(t *testing.T) {
	t.Parallel()
	testTrouble(t, "readonly", "PRAGMA query_only = 1", "PRAGMA query_only = 0")
}

// testTrouble has SQLite itself fail, then recover.
func testTrouble(t *testing.T, says, bad, good string) {
	synctest.Test(t, func(t *testing.T) {
		var pragma atomic.Value
		var l *Ledger
		l, _, err := Open(t.TempDir(), Options{Limits: limits, Fault: func(step string) error {
			if text, _ := pragma.Load().(string); step == "begin" && text != "" {
				_, _ = l.store.db.Exec(text)
			}
			return nil
		}})
		require.NoError(t, err)
		pragma.Store(bad)
		for id := range int64(100) {
			l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(id+1), noon(1))}, aCheckpoint())
			time.Sleep(time.Second)
		}
		s := l.Stats()
		require.ErrorContains(t, s.Trouble, says)
		assert.Positive(t, s.Waiting)
		pragma.Store(good)
		time.Sleep(lastRetry)
		synctest.Wait()
		assert.Zero(t, l.Stats().Waiting)
		rows, err := l.Floods(t.Context(), Query{})
		require.NoError(t, err)
		assert.Len(t, rows, 100)
		require.NoError(t, l.Close())
	})
}

func TestMemoryIsBoundedWhileStorageFailsAndFloodsAreKept(t *testing.T) {
	t.Parallel()
	var f failing
	l, _ := open(t, t.TempDir(), Options{Limits: limits, MemoryRows: 100, Fault: f.fault})
	f.step.Store("begin")
	for id := range int64(300) {
		l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(id+1), noon(1)), switchEvent(noon(1))}, aCheckpoint())
	}
	s := l.Stats()
	assert.LessOrEqual(t, s.Waiting, 300+2*100, "what waits, and as much again that is being tried")
	assert.Equal(t, 900, s.Waiting+int(s.Dropped), "all that was recorded is accounted for")
	f.step.Store("")
	require.NoError(t, l.Flush(t.Context()))
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	assert.Len(t, rows, 300)
}

func TestAFileTakenAwayIsBegunAnewWithTheCheckpoint(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	l, _ := open(t, dir, Options{Limits: limits})
	l.Record(nil, aCheckpoint())
	require.NoError(t, l.Flush(t.Context()))
	for _, end := range []string{"", "-wal"} {
		require.NoError(t, os.Remove(filepath.Join(dir, fileName+end)))
	}
	l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(1), noon(1))}, nil)
	require.NoError(t, l.Close())
	again, r := open(t, dir, Options{Limits: limits})
	require.NotNil(t, r.Checkpoint)
	assert.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1)
	rows, err := again.Floods(t.Context(), Query{})
	require.NoError(t, err)
	assert.Len(t, rows, 1)
}

func TestALogTakenAwayLosesNothing(t *testing.T) {
	t.Parallel()
	for name, take := range map[string]func(t *testing.T, log string){
		"deleted":   func(t *testing.T, log string) { require.NoError(t, os.Remove(log)) },
		"exchanged": func(t *testing.T, log string) { require.NoError(t, replace(log, []byte("of another file"))) },
	} {
		for how, next := range map[string]func(l *Ledger){
			"found by a look": func(l *Ledger) {},
			"by a write": func(l *Ledger) {
				l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(2), noon(2))}, nil)
			},
		} {
			t.Run(name+", "+how, func(t *testing.T) {
				t.Parallel()
				synctest.Test(t, func(t *testing.T) {
					dir := t.TempDir()
					l, _, err := Open(dir, Options{Limits: limits})
					require.NoError(t, err)
					l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(1), noon(1))}, aCheckpoint())
					require.NoError(t, l.Flush(t.Context()))
					take(t, filepath.Join(dir, fileName+"-wal"))
					next(l)
					time.Sleep(2 * probeEvery)
					rows, err := l.Floods(t.Context(), Query{})
					require.NoError(t, err)
					assert.NotEmpty(t, rows)
					if how == "found by a look" {
						assert.Len(t, l.Stats().Found, 1, "a person is told")
					}
					left := t.TempDir() // a power cut
					copyDir(t, dir, left)
					require.NoError(t, l.Close())
					again, r, err := Open(left, Options{Limits: limits})
					require.NoError(t, err)
					require.Empty(t, r.SetAside)
					kept, err := again.Floods(t.Context(), Query{})
					require.NoError(t, err)
					assert.Equal(t, rows, kept)
					require.NoError(t, again.Close())
				})
			})
		}
	}
}

func TestWhileTheProgramRunsNoOtherOneOpensItsLedger(t *testing.T) {
	if path := os.Getenv("OPEN_LEDGER"); path != "" { // the other program
		db, err := connect(path, reading)
		require.NoError(t, err)
		var n int
		require.Equal(t, codeBusy, code(db.QueryRow("SELECT count(*) FROM floods").Scan(&n)))
		return
	}
	dir := t.TempDir()
	l, _ := open(t, dir, Options{Limits: limits})
	l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(1), noon(1))}, aCheckpoint())
	require.NoError(t, l.Flush(t.Context()))
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	assert.Len(t, rows, 1)
	assert.NoFileExists(t, filepath.Join(dir, fileName+"-shm"), "the index of the log costs storage nothing")
	if runtime.GOOS == "windows" {
		return
	}
	other := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestWhileTheProgramRunsNoOther", "-test.v")
	other.Env = append(os.Environ(), "OPEN_LEDGER="+filepath.Join(dir, fileName))
	said, err := other.CombinedOutput()
	require.NoError(t, err, string(said))
}

func TestStorageThatIsGoneAtTheStartIsTroubleAndNotTheEnd(t *testing.T) {
	t.Parallel()
	dir := kept(t, aCheckpoint(), floodEvent(controller.FloodEnded, aFlood(1), noon(1)))
	var f failing
	f.step.Store("open")
	l, r, err := Open(dir, Options{Limits: limits, Fault: f.fault})
	require.NoError(t, err)
	require.ErrorContains(t, r.Trouble, "the card does not answer")
	require.NotNil(t, r.Checkpoint, "what can still be read is gone on from")
	assert.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1)
	l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(8), noon(8))}, nil)
	f.step.Store("")
	require.NoError(t, l.Flush(t.Context()))
	require.NoError(t, l.Close())
}

func TestStorageThatCannotEvenBeReadNeverGetsAFloodNumberTwice(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, fileName), 0o750)) // no file to open
	l, r := open(t, dir, Options{Limits: limits})
	require.Error(t, r.Trouble)
	require.NotNil(t, r.Checkpoint)
	assert.Greater(t, r.Checkpoint.Controller.NextID, int64(1)<<40)
	assert.Less(t, r.Checkpoint.Controller.NextID, int64(1)<<52, "exact in JSON")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorContains(t, l.Add(ctx, Diary{At: When{noon(1).Wall}, Kind: Note, Text: "hello"}), "kept in memory")
	require.ErrorContains(t, l.Close(), "1 rows are lost")
}

func TestWhatIsUrgentIsStoredAtOnce(t *testing.T) {
	t.Parallel()
	calm := aCheckpoint()
	for name, c := range map[string]struct {
		events []controller.Event
		change func(g *safety.State, c *controller.State)
		urgent bool
	}{
		"an intention":       {events: []controller.Event{floodEvent(controller.FloodIntended, intended(aFlood(1)), noon(1))}, urgent: true},
		"a start":            {events: []controller.Event{floodEvent(controller.PumpStarted, intended(aFlood(1)), noon(1))}, urgent: true},
		"an end":             {events: []controller.Event{floodEvent(controller.FloodEnded, aFlood(1), noon(1))}, urgent: true},
		"a latch":            {events: []controller.Event{{Kind: controller.GuardActed, Guard: safety.Event{Kind: safety.LatchedEvent}}}, urgent: true},
		"a reset":            {events: []controller.Event{{Kind: controller.GuardActed, Guard: safety.Event{Kind: safety.ResetEvent}}}, urgent: true},
		"a pause":            {events: []controller.Event{{Kind: controller.PauseBegan}}, urgent: true},
		"sanitising":         {events: []controller.Event{{Kind: controller.SanitisingBegan}}, urgent: true},
		"a stage":            {events: []controller.Event{{Kind: controller.StageBegan}}, urgent: true},
		"a switch":           {events: []controller.Event{switchEvent(noon(1))}},
		"a message":          {events: []controller.Event{{Kind: controller.MessageSent}}},
		"a changed budget":   {change: func(g *safety.State, _ *controller.State) { g.Starts = append(g.Starts, 2) }, urgent: true},
		"a later checkpoint": {change: func(g *safety.State, c *controller.State) { g.Mono++; c.Mono++; c.Wall = c.Wall.Add(1) }},
		"a new flood":        {change: func(_ *safety.State, c *controller.State) { c.NextID++ }, urgent: true},
		"the end of a pause": {events: []controller.Event{{Kind: controller.PauseEnded}}, urgent: true},
		"rinsed":             {events: []controller.Event{{Kind: controller.SanitisingEnded}}, urgent: true},
		"a closed batch":     {events: []controller.Event{{Kind: controller.BatchClosed}}, urgent: true},
		"a stop":             {events: []controller.Event{floodEvent(controller.PumpStopped, intended(aFlood(1)), noon(1))}, urgent: true},
		"a retry":            {events: []controller.Event{floodEvent(controller.FloodRetry, intended(aFlood(1)), noon(1))}, urgent: true},
		"a refusal":          {events: []controller.Event{floodEvent(controller.FloodRefused, intended(aFlood(1)), noon(1))}, urgent: true},
		"hands-in":           {change: func(g *safety.State, _ *controller.State) { g.HandsIn = true }, urgent: true},
		"a skip": {change: func(_ *safety.State, c *controller.State) {
			c.Benches["south"] = controller.BenchState{Skips: []controller.Skip{{Slot: 1_782_000_000}}}
		}, urgent: true},
		"a weighing": {events: []controller.Event{{Kind: controller.ReservoirWeighed, Weighing: controller.Weighing{Reservoir: 0}}}},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, _, err := Open(t.TempDir(), Options{Limits: limits})
				require.NoError(t, err)
				l.Record(nil, calm)
				synctest.Wait()
				cp := aCheckpoint()
				if c.change != nil {
					c.change(&cp.Guard, &cp.Controller)
				}
				l.Record(c.events, cp)
				synctest.Wait()
				l.mu.Lock()
				waits := !l.next.empty()
				l.mu.Unlock()
				assert.Equal(t, c.urgent, !waits)
				require.NoError(t, l.Close())
			})
		})
	}
}
