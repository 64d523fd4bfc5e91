package ledger

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// said is a witness that says what is latched on the bench north.
func said(t *testing.T, what string, seq int64, resets int, latched ...safety.Interlock) *witness {
	s := safety.BenchState{Resets: resets}
	for _, i := range latched {
		s.Latched = append(s.Latched, safety.Trip{Interlock: i, Latched: true})
	}
	cp := &checkpoint{Checkpoint: &loop.Checkpoint{}, stamp: stamp{Seq: seq, Record: "one"}, benches: []string{"north"}}
	cp.Guard.Benches = map[string]safety.BenchState{"north": s}
	parts, err := cp.parts()
	require.NoError(t, err)
	w := &witness{what: what, there: true}
	for part, data := range parts {
		w.take(part, data, partSum(part, data))
	}
	require.Empty(t, w.ailment())
	return w
}

func TestOfTwoWitnessesALatchStandsUnlessANewerResetIsOnRecord(t *testing.T) {
	t.Parallel()
	const a, b = safety.DrainWindow, safety.LeakFound
	of := func(seq int64, resets int, latched ...safety.Interlock) func(*testing.T) *witness {
		return func(t *testing.T) *witness { return said(t, "w", seq, resets, latched...) }
	}
	without := func(t *testing.T) *witness { return &witness{what: "w"} }
	hurt := func(w func(*testing.T) *witness, part string) func(*testing.T) *witness {
		return func(t *testing.T) *witness {
			is := w(t)
			delete(is.parts, part)
			if is.hurt = append(is.hurt, part); part == headPart {
				is.head = nil
			}
			return is
		}
	}
	const north = benchPart + "north"
	for name, c := range map[string]struct {
		one, other func(*testing.T) *witness
		latched    []safety.Interlock
		lost       bool
	}{
		"both alike":                              {of(5, 1, a), of(5, 1, a), []safety.Interlock{a}, false},
		"the older one has it":                    {of(5, 1), of(4, 1, a), []safety.Interlock{a}, false},
		"the newer one has it":                    {of(5, 1, a), of(4, 1), []safety.Interlock{a}, false},
		"each has one":                            {of(5, 1, a), of(4, 1, b), []safety.Interlock{a, b}, false},
		"reset since":                             {of(5, 2), of(4, 1, a), nil, false},
		"reset since, and latched anew":           {of(5, 2, b), of(4, 1, a), []safety.Interlock{b}, false},
		"the older one counts more":               {of(5, 1, a), of(4, 2), []safety.Interlock{a}, false},
		"one alone":                               {of(5, 1, a), without, []safety.Interlock{a}, false},
		"none":                                    {without, without, nil, true},
		"its part hurt, the other whole":          {hurt(of(5, 1, a), north), of(4, 1, a), []safety.Interlock{a}, false},
		"its part hurt, the other from before":    {hurt(of(5, 1, a), north), of(4, 1), nil, true},
		"its part hurt, the other says unlatched": {hurt(of(5, 1), north), of(4, 1), nil, false},
		"both parts hurt":                         {hurt(of(5, 1, a), north), hurt(of(4, 1, a), north), nil, true},
		"head hurt, the other whole":              {hurt(of(5, 1, a), headPart), of(4, 1), []safety.Interlock{a}, false},
		"both heads hurt":                         {hurt(of(5, 1, a), headPart), hurt(of(4, 1), headPart), []safety.Interlock{a}, true},
	} {
		t.Run(name, func(t *testing.T) {
			for _, turned := range []bool{false, true} {
				one, other := c.one(t), c.other(t)
				if turned {
					one, other = other, one
				}
				cp := merge(one, other, []string{"north"})
				var latched []safety.Interlock
				for _, trip := range cp.Guard.Benches["north"].Latched {
					latched = append(latched, trip.Interlock)
				}
				assert.ElementsMatch(t, c.latched, latched)
				assert.Equal(t, c.lost, cp.Guard.Lost["north"] != "")
			}
		})
	}
}

func TestABenchThatNoWitnessListsIsNew(t *testing.T) {
	t.Parallel()
	cp := merge(said(t, "w", 5, 0), said(t, "w", 5, 0), []string{"north", "east"})
	assert.Empty(t, cp.Guard.Lost)
	assert.NotContains(t, cp.Guard.Benches, "east")
}

func TestLatchesOfTwoRecordsBothStand(t *testing.T) {
	t.Parallel()
	one, other := said(t, "w", 5, 7), said(t, "w", 4, 1, safety.LeakFound)
	other.head.Record = "another"
	assert.Len(t, merge(one, other, []string{"north"}).Guard.Benches["north"].Latched, 1)
}

func TestTheTripsOfALedgerWithoutAWholeCheckpointStand(t *testing.T) {
	t.Parallel()
	trip := func(kind safety.EventKind) controller.Event {
		return controller.Event{Kind: controller.GuardActed, At: noon(1), Guard: safety.Event{Kind: kind, Interlock: safety.DrainWindow, Latched: kind == safety.LatchedEvent}}
	}
	dropped := controller.Event{Kind: controller.GuardActed, Bench: -1, At: noon(1), Guard: safety.Event{Kind: safety.Dropped, Bench: -1, Left: "north", Detail: "sold"}}
	for name, c := range map[string]struct {
		events  []controller.Event
		latched int
		weld    bool
	}{
		"latched":           {[]controller.Event{trip(safety.LatchedEvent)}, 1, false},
		"latched and reset": {[]controller.Event{trip(safety.LatchedEvent), trip(safety.ResetEvent)}, 0, false},
		"latched, and dropped after it left the file": {[]controller.Event{trip(safety.LatchedEvent), dropped}, 0, false},
		"welded": {[]controller.Event{trip(safety.ResetEvent), trip(safety.LatchedEvent), trip(safety.WeldProven)}, 1, true},
	} {
		t.Run(name, func(t *testing.T) {
			cp := aCheckpoint()
			cp.Guard.Benches["north"] = safety.BenchState{}
			dir := kept(t, cp, c.events...)
			require.NoError(t, os.Remove(filepath.Join(dir, witnessName)))
			db, err := connect(filepath.Join(dir, fileName), writing)
			require.NoError(t, err)
			_, err = db.Exec("UPDATE checkpoint SET data = deflate_part('{}')")
			require.NoError(t, err)
			require.NoError(t, db.Close())

			_, r := open(t, dir, Options{Limits: limits})
			north := r.Checkpoint.Guard.Benches["north"]
			assert.Len(t, north.Latched, c.latched)
			assert.Equal(t, c.weld, north.Weld)
			assert.Contains(t, r.Checkpoint.Guard.Lost, "north")
			assert.NotEmpty(t, r.Found)
		})
	}
}

func TestWhatIsLostStaysLostUntilAGuardHasLatchedIt(t *testing.T) {
	t.Parallel()
	dir := kept(t, aCheckpoint())
	require.NoError(t, os.Remove(filepath.Join(dir, witnessName)))
	require.NoError(t, os.Truncate(filepath.Join(dir, fileName), 0))
	for range 3 { // programs that only look, such as commissioning
		l, r := open(t, dir, Options{Limits: limits})
		assert.Len(t, r.Checkpoint.Guard.Lost, 2)
		require.NoError(t, l.Close())
	}
}

func TestTheCopyGoesOnWhereTheLedgerTakesNoWrites(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	broken := errors.New("a broken card")
	var fail atomic.Bool // read by the writer
	l, _ := open(t, dir, Options{Limits: limits, Fault: func(step string) error {
		if fail.Load() && step == "begin" {
			return broken
		}
		return nil
	}})
	l.Record(nil, aCheckpoint())
	require.NoError(t, l.Flush(t.Context()))
	fail.Store(true)
	reset := aCheckpoint()
	reset.Guard.Benches["north"] = safety.BenchState{Resets: 1, Watched: true}
	l.Record(nil, reset)
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	require.ErrorIs(t, l.Flush(ctx), broken)
	_ = l.Close() // the ledger does not take it, as was said

	_, r := open(t, dir, Options{Limits: limits})
	assert.Empty(t, r.Checkpoint.Guard.Benches["north"].Latched, "the reset counts")
	assert.Equal(t, 1, r.Checkpoint.Guard.Benches["north"].Resets)
}

func TestACopyThatCannotHoldALatchIsTakenAwayAndTold(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	full := errors.New("no space left")
	var fail atomic.Bool // read by the writer
	l, _ := open(t, dir, Options{Limits: limits, Fault: func(step string) error {
		if fail.Load() && step == "witness" {
			return full
		}
		return nil
	}})
	free := aCheckpoint()
	free.Guard.Benches["north"] = safety.BenchState{}
	l.Record(nil, free)
	require.NoError(t, l.Flush(t.Context()))
	require.FileExists(t, filepath.Join(dir, witnessName))
	fail.Store(true)
	l.Record(nil, aCheckpoint())
	require.NoError(t, l.Flush(t.Context()))
	require.NoError(t, l.Close())
	assert.ErrorIs(t, l.Stats().Copy, full)
	assert.NoFileExists(t, filepath.Join(dir, witnessName), "it would say that nothing is latched")
}

func TestStorageThatIsTakenAwayIsToldWithinAMinute(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		spoil func(t *testing.T, dir string)
		tells func(t *testing.T, s Stats)
	}{
		"the directory": {
			func(t *testing.T, dir string) { require.NoError(t, os.Rename(dir, dir+"-away")) },
			func(t *testing.T, s Stats) { assert.ErrorContains(t, s.Trouble, "is gone") },
		},
		"another directory in its place": {
			func(t *testing.T, dir string) {
				require.NoError(t, os.Rename(dir, dir+"-away"))
				require.NoError(t, os.Mkdir(dir, 0o750))
			},
			func(t *testing.T, s Stats) { assert.ErrorContains(t, s.Trouble, "is not the one") },
		},
		"the ledger": {
			func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, fileName))) },
			func(t *testing.T, s Stats) { require.Len(t, s.Found, 1); assert.Contains(t, s.Found[0], "taken away") },
		},
		"the copy": {
			func(t *testing.T, dir string) { require.NoError(t, os.Truncate(filepath.Join(dir, witnessName), 9)) },
			func(t *testing.T, s Stats) { require.Len(t, s.Found, 1); assert.Contains(t, s.Found[0], witnessName) },
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := kept(t, aCheckpoint())
			synctest.Test(t, func(t *testing.T) {
				l, _, err := Open(dir, Options{Limits: limits})
				require.NoError(t, err)
				c.spoil(t, dir)
				time.Sleep(time.Minute)
				synctest.Wait()
				c.tells(t, l.Stats())
				_ = l.Close()
			})
		})
	}
}

func TestOrdersAndWhatCommissioningFoundOutliveTheLedger(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		damage func(t *testing.T, dir string)
		clock  time.Duration // what the boot-time clock of the copy reads more than that of the checkpoint
	}{
		"a ledger that is deleted": {func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, fileName))) }, noon(1).Mono},
		"an older ledger in its place": {func(t *testing.T, dir string) {
			data, err := os.ReadFile(filepath.Join(dir, "ledger-before.db"))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, fileName), data, 0o600))
		}, 0},
		"a part that is damaged": {func(t *testing.T, dir string) {
			db, err := connect(filepath.Join(dir, fileName), writing)
			require.NoError(t, err)
			_, err = db.Exec("UPDATE checkpoint SET sum = 1 WHERE part = 'bench/north'")
			require.NoError(t, errors.Join(err, db.Close()))
		}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cp := aCheckpoint()
			at := cp.Controller.Mono
			orders := controller.BenchState{
				PauseUntil: noon(3).Wall, PauseLeft: 48 * time.Hour, PauseBy: "a person", PauseMade: at - 10*time.Minute,
				Sanitising: noon(1).Wall.Add(-2 * time.Hour), SanitisedBy: "another", SanitisingAt: at, SanitisingNudge: at + time.Hour, Baseline: true,
				Skips:   []controller.Skip{{Slot: 20, Named: 20, Asked: at - time.Minute, Due: at + time.Hour}},
				LeftOut: []schedule.Civil{10},
			}
			cp.Controller.Benches["north"] = orders
			word := controller.CropState{
				Transplanted: 100, Closed: 120, Passages: []schedule.Passage{{On: 110, Stage: 1}},
				Said: []controller.Said{{At: at - 20*time.Minute, Read: noon(1).Wall.Add(-time.Hour).UTC(), Passage: 0}},
			}
			cp.Controller.Crops = map[string]controller.CropState{"basil": word}
			dir := t.TempDir()
			l, _ := open(t, dir, Options{Limits: limits, Zone: time.UTC})
			l.Record(nil, cp)
			require.NoError(t, l.Backup(t.Context(), filepath.Join(dir, "ledger-before.db")))
			found := Commissioning{At: When{noon(1).Wall}, What: "calibrated", Place: "north", Fingerprint: "abc", Data: []byte(`{"fill_s":210}`)}
			require.NoError(t, l.Add(t.Context(), found))
			require.NoError(t, l.Close())
			c.damage(t, dir)

			l, r := open(t, dir, Options{Limits: limits, Zone: time.UTC})
			north := r.Checkpoint.Controller.Benches["north"]
			orders.PauseMade -= c.clock
			orders.SanitisingNudge -= c.clock
			if orders.SanitisingAt -= c.clock; orders.SanitisingAt == 0 {
				orders.SanitisingAt = -1 // 0 would be no moment
			}
			orders.Skips[0].Asked, orders.Skips[0].Due = orders.Skips[0].Asked-c.clock, orders.Skips[0].Due-c.clock
			assert.Equal(t, orders, ordersOf(north))
			basil := r.Checkpoint.Controller.Crops["basil"]
			word.Said[0].At -= c.clock
			assert.Equal(t, word.Said, basil.Said)
			assert.Equal(t, []any{word.Transplanted, word.Closed, word.Passages}, []any{basil.Transplanted, basil.Closed, basil.Passages})
			require.Len(t, r.Commissioned, 1)
			assert.Equal(t, found.Data, r.Commissioned[0].Data)
			assert.True(t, found.At.Equal(r.Commissioned[0].At.Time))
			entries, err := l.Commissioning(t.Context(), Query{})
			require.NoError(t, err)
			assert.Equal(t, []Commissioning{found}, entries, "written into the new ledger")
		})
	}
}

// A ledger that storage has kept from the latest skips would flood the slots that
// were left out since: its copy knows them.
func TestSkipsAreThoseOfTheNewerWitness(t *testing.T) {
	t.Parallel()
	of := func(seq int64, s controller.BenchState) *witness {
		cp := &checkpoint{Checkpoint: &loop.Checkpoint{}, stamp: stamp{Seq: seq, Record: "one"}, benches: []string{"north"}}
		cp.Controller.Benches, cp.Controller.Mono, cp.Guard.Mono = map[string]controller.BenchState{"north": s}, time.Hour, time.Hour
		parts, err := cp.parts()
		require.NoError(t, err)
		w := &witness{there: true}
		for part, data := range parts {
			w.take(part, data, partSum(part, data))
		}
		return w
	}
	slots := func(skips []controller.Skip) (all []schedule.Civil) {
		for _, k := range skips {
			all = append(all, k.Slot)
		}
		return all
	}
	ledger := controller.BenchState{HasSlot: true, Cursor: 10, Skips: []controller.Skip{{Slot: 12, Named: 12}, {Slot: 14, Named: 14}}}
	copied := controller.BenchState{LeftOut: []schedule.Civil{8, 12}, Skips: []controller.Skip{{Slot: 16, Named: 16}}}
	newer := merge(of(4, ledger), of(5, copied), []string{"north"}).Controller.Benches["north"]
	assert.Equal(t, []schedule.Civil{16, 12}, slots(newer.Skips), "12 was left out and 14 taken back since")
	assert.Equal(t, copied.LeftOut, newer.LeftOut)
	older := merge(of(5, ledger), of(4, copied), []string{"north"}).Controller.Benches["north"]
	assert.Equal(t, []schedule.Civil{12, 14}, slots(older.Skips))
	alone := merge(&witness{}, of(5, copied), []string{"north"}).Controller.Benches["north"]
	assert.Equal(t, []schedule.Civil{16}, slots(alone.Skips), "what lies behind comes up no more")
}

// The copy is written anew for a person's word, and not for what time alone changes.
func TestTheCopyFollowsWhatPeopleSay(t *testing.T) {
	t.Parallel()
	cp := func(at time.Duration, s controller.BenchState, k controller.CropState) string {
		for i := range s.Skips {
			s.Skips[i].Asked, s.Skips[i].Due = at, at
		}
		for i := range k.Said {
			k.Said[i].At = at
		}
		return grave(&checkpoint{Checkpoint: &loop.Checkpoint{Controller: controller.State{
			Benches: map[string]controller.BenchState{"north": s}, Crops: map[string]controller.CropState{"basil": k},
		}}})
	}
	skip := controller.BenchState{Skips: []controller.Skip{{Slot: 12}}}
	closed := controller.CropState{Closed: 120, Said: []controller.Said{{}}}
	plain := cp(0, controller.BenchState{}, controller.CropState{})
	assert.NotEqual(t, plain, cp(0, skip, controller.CropState{}))
	assert.NotEqual(t, plain, cp(0, controller.BenchState{}, closed))
	assert.Equal(t, cp(time.Minute, skip, closed), cp(time.Hour, skip, closed))
	assert.Equal(t, plain, cp(0, controller.BenchState{Cursor: 7}, controller.CropState{Since: time.Hour, Stage: 2}))
	assert.Equal(t, time.Hour, skip.Skips[0].Asked, "what is stored keeps its times")
}
