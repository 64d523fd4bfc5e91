package ledger

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// death is a copy of the files at one step of one write, and what the program
// had been promised until then.
type death struct {
	step   string
	dir    string
	wall   time.Time
	stored map[int64]bool // intentions acknowledged
}

// deaths runs the site through a flood and copies the files at every step of
// every write.
func deaths(t *testing.T) []death {
	s := newSite(t, "2026-04-10 07:30")
	dir, copies := t.TempDir(), t.TempDir()
	acknowledged := map[int64]bool{}
	var all []death
	var mu sync.Mutex // a late batch of the writer may run beside the turns
	s.wall.Store(s.world.Now().Wall.UnixNano())
	o := s.options()
	o.Fault = func(step string) error {
		mu.Lock()
		defer mu.Unlock()
		d := death{step: step, dir: filepath.Join(copies, fmt.Sprint(len(all))), wall: time.Unix(0, s.wall.Load()).UTC(), stored: map[int64]bool{}}
		for id := range acknowledged {
			d.stored[id] = true
		}
		copyDir(t, dir, d.dir)
		all = append(all, d)
		return nil
	}
	l, _ := open(t, dir, o)
	s.begin(&onlooker{paced{Ledger: l, t: t, world: s.world}, &mu, acknowledged}, nil, "boot")
	s.run(time.Hour)
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	require.Len(t, rows, 1)
	require.Equal(t, controller.Proven, rows[0].Outcome)
	mu.Lock()
	defer mu.Unlock()
	return slices.Clone(all)
}

// onlooker keeps in mind what was acknowledged.
type onlooker struct {
	paced
	mu           *sync.Mutex
	acknowledged map[int64]bool
}

func (w *onlooker) Acknowledged() []loop.Ack {
	acks := w.paced.Acknowledged()
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, a := range acks {
		w.acknowledged[a.Flood] = true
	}
	return acks
}

func TestADeathAtAnyStepOfAWriteLosesNothingPromisedAndDoublesNothing(t *testing.T) {
	t.Parallel()
	o := newSite(t, "2026-04-10 07:30").options()
	all := deaths(t)
	resumed := 0
	outcomes := map[controller.Outcome]int{}
	for i, d := range all {
		l, r := open(t, d.dir, o)
		require.Empty(t, r.SetAside, "death %d at %q", i, d.step)
		require.NoError(t, r.Trouble)
		for id := range d.stored {
			rows, err := l.Floods(t.Context(), Query{})
			require.NoError(t, err)
			require.NotEmpty(t, rows, "death %d at %q: flood %d was acknowledged and is not there", i, d.step, id)
		}
		if i == 0 || d.step == "committed" { // the other files are as one of these left them
			s := newSite(t, d.wall.In(dublin).Format("2006-01-02 15:04"))
			outcomes[liveOn(t, s, l, r)]++
			resumed++
		}
		require.NoError(t, l.Close())
	}
	t.Logf("kills %d, restarts %d, the flood under way: %v", len(all), resumed, outcomes)
	assert.Greater(t, len(all), 50)
	assert.NotZero(t, outcomes[controller.Interrupted])
	assert.NotZero(t, outcomes[controller.Proven])
}

// liveOn goes on from a death until the next flood is over, and returns the
// outcome of the first.
func liveOn(t *testing.T, s *site, l *Ledger, r Recovered) controller.Outcome {
	s.begin(&paced{Ledger: l, t: t, world: s.world}, r.Checkpoint, "boot")
	s.run(4 * time.Hour)
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	slots := map[string]int{}
	for _, row := range rows {
		slots[row.Slot]++
		require.NotEmpty(t, row.Outcome, row.Slot)
	}
	require.Equal(t, map[string]int{"2026-04-10T08:00:00+01:00": 1, "2026-04-10T11:00:00+01:00": 1}, slots)
	return rows[0].Outcome
}

// What a person ordered is on storage with the turn that takes it up: a death a
// moment later finds it there, in the ledger alone.
func TestWhatAPersonOrderedOutlivesADeathAMomentLater(t *testing.T) {
	t.Parallel()
	north := func(cp *loop.Checkpoint) controller.BenchState { return cp.Controller.Benches["north"] }
	for name, c := range map[string]struct {
		order func(loop.Core) error
		holds func(cp *loop.Checkpoint) bool
	}{
		"hands-in": {
			func(c loop.Core) error { c.Guard.SetHandsIn(c.Now, true); return nil },
			func(cp *loop.Checkpoint) bool { return cp.Guard.HandsIn },
		},
		"a pause": {
			func(c loop.Core) error { return c.Controller.Pause(c.Now, 0, c.Now.Wall.Add(20*time.Hour), "") },
			func(cp *loop.Checkpoint) bool { return north(cp).PauseLeft > 19*time.Hour },
		},
		"a skip": {
			func(c loop.Core) error { _, err := c.Controller.SkipNext(c.Now, 0); return err },
			func(cp *loop.Checkpoint) bool { return len(north(cp).Skips) == 1 },
		},
		"sanitising": {
			func(c loop.Core) error { return c.Controller.Sanitise(c.Now, 0, "") },
			func(cp *loop.Checkpoint) bool { return !north(cp).Sanitising.IsZero() },
		},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				dir, after := t.TempDir(), t.TempDir()
				s := newSite(t, "2026-04-10 07:30")
				l, _, err := Open(dir, s.options())
				require.NoError(t, err)
				s.begin(l, nil, "boot")
				s.run(10 * time.Minute)
				synctest.Wait()
				require.NoError(t, s.loop.Act(c.order))
				s.loop.Turn()
				synctest.Wait()
				copyDir(t, dir, after)
				require.NoError(t, l.Close())
				l, r, err := Open(after, s.options())
				require.NoError(t, err)
				require.NotNil(t, r.Checkpoint)
				assert.True(t, c.holds(r.Checkpoint))
				require.NoError(t, l.Close())
			})
		})
	}
}

func TestALogTornAnywhereLeavesAWholeBeginningOfTheRecord(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	l, _ := open(t, dir, Options{Limits: limits})
	var sizes []int64 // of the log, once flood n+1 is stored
	for id := range int64(6) {
		l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(id+1), noon(1))}, nil)
		require.NoError(t, l.Flush(t.Context()))
		sizes = append(sizes, fileSize(t, dir))
	}
	for cut := int64(0); cut <= sizes[len(sizes)-1]; cut += 1021 {
		torn := t.TempDir()
		copyDir(t, dir, torn)
		require.NoError(t, os.Truncate(filepath.Join(torn, fileName+"-wal"), cut))
		whole := 0
		for _, size := range sizes {
			if size <= cut {
				whole++
			}
		}
		again, r := open(t, torn, Options{Limits: limits})
		require.Empty(t, r.SetAside, "cut at %d", cut)
		rows, err := again.Floods(t.Context(), Query{})
		require.NoError(t, err)
		require.Len(t, rows, whole, "cut at %d", cut)
		require.NoError(t, again.Close())
	}
}

func fileSize(t *testing.T, dir string) int64 {
	info, err := os.Stat(filepath.Join(dir, fileName+"-wal"))
	require.NoError(t, err)
	return info.Size()
}

func TestEveryCommitIsSynced(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{})
	var mode string
	var level int
	require.NoError(t, l.store.db.QueryRow("PRAGMA journal_mode").Scan(&mode))
	require.NoError(t, l.store.db.QueryRow("PRAGMA synchronous").Scan(&level))
	assert.Equal(t, "wal", mode)
	assert.Equal(t, 2, level, "FULL: the log is synced at each commit")
}
