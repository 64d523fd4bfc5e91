package ledger

import (
	"fmt"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/notify/outbox"
	"benchtide/safety"
)

// Each state that is handed over takes the place of the one before, and one whose
// write failed is no exception: neither does it come back over a newer one, nor is
// it taken for stored.
func TestAfterFailedWritesTheNewestStateIsOnStorage(t *testing.T) {
	t.Parallel()
	for _, step := range []string{"begin", "floods", "rows", "outputs", "checkpoint", "outbox", "prune", "commit"} {
		for _, newest := range []int{2, 4} { // the one that failed, or others on top of it
			t.Run(fmt.Sprintf("%s, %d", step, newest), func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) {
					dir, after := t.TempDir(), t.TempDir()
					var f failing
					l, _, err := Open(dir, Options{Limits: limits, Fault: f.fault})
					require.NoError(t, err)
					hand := func(n int) {
						flood := aFlood(1)
						flood.Attempt = n
						cp := aCheckpoint()
						cp.Controller.NextID, cp.Guard.Benches["south"] = int64(10+n), safety.BenchState{Resets: n}
						l.Record([]controller.Event{floodEvent(controller.FloodEnded, flood, noon(1))}, cp)
						l.Keep(outbox.State{Channels: map[string]outbox.Channel{"mail": {Code: fmt.Sprint(n)}}}, true)
						synctest.Wait()
					}
					hand(1)
					f.step.Store(step)
					for n := 2; n <= newest; n++ {
						hand(n)
						require.Error(t, l.Stats().Trouble)
					}
					f.step.Store("")
					time.Sleep(2 * lastRetry)
					synctest.Wait()
					require.NoError(t, l.Stats().Trouble)
					copyDir(t, dir, after) // the ledger alone, as a death leaves it
					require.NoError(t, l.Close())

					l, r, err := Open(after, Options{Limits: limits})
					require.NoError(t, err)
					assert.Equal(t, int64(10+newest), r.Checkpoint.Controller.NextID)
					assert.Equal(t, newest, r.Checkpoint.Guard.Benches["south"].Resets)
					assert.Equal(t, fmt.Sprint(newest), l.Outbox().Channels["mail"].Code)
					rows, err := l.Floods(t.Context(), Query{})
					require.NoError(t, err)
					require.Len(t, rows, 1)
					assert.Equal(t, newest, rows[0].Attempt)
					require.NoError(t, l.Close())
				})
			})
		}
	}
}

// The copy of the guard's state, too, holds the newest that was handed over, once
// it can be written, and at no time is an older one left in its place.
func TestAfterAFailedWriteOfTheCopyItHoldsTheNewestState(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		var f failing
		l, _, err := Open(dir, Options{Limits: limits, Fault: f.fault})
		require.NoError(t, err)
		hand := func(n int) {
			cp := aCheckpoint()
			cp.Guard.Benches["south"] = safety.BenchState{Resets: n}
			l.Record(nil, cp)
			synctest.Wait()
		}
		resets := func() int {
			w := readWitness(filepath.Join(dir, witnessName))
			if !w.there {
				return -1
			}
			s, whole := w.bench("south")
			require.True(t, whole)
			return s.Guard.Resets
		}
		hand(1)
		require.Equal(t, 1, resets())
		f.step.Store("witness")
		hand(2)
		assert.Equal(t, -1, resets(), "what knows less than the ledger is taken away")
		hand(3)
		f.step.Store("")
		time.Sleep(time.Minute)
		synctest.Wait()
		assert.Equal(t, 3, resets(), "without another write")
		require.NoError(t, l.Stats().Copy)
		f.step.Store("begin") // the ledger takes nothing
		hand(4)
		assert.Equal(t, 4, resets(), "the copy does not wait for it")
		f.step.Store("")
		require.NoError(t, l.Close())
		assert.Equal(t, 4, resets())
	})
}

// What is recorded while a write is under way that then fails is newer than what
// that write had.
func TestWhatComesWhileAWriteFailsIsNewerThanThat(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		var l *Ledger
		hand := func(n int) {
			cp := aCheckpoint()
			cp.Controller.NextID = int64(n)
			l.Record(nil, cp)
		}
		failed := false
		var err error
		l, _, err = Open(t.TempDir(), Options{Limits: limits, Fault: func(step string) error {
			if step != "commit" || failed || l == nil {
				return nil
			}
			failed = true
			hand(12)
			return fmt.Errorf("the card does not answer")
		}})
		require.NoError(t, err)
		hand(11)
		time.Sleep(2 * lastRetry)
		synctest.Wait()
		require.True(t, failed)
		w := testify(l.store.db)
		require.NotNil(t, w.head)
		assert.EqualValues(t, 12, w.head.Controller.NextID)
		require.NoError(t, l.Close())
	})
}
