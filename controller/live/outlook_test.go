package live

import (
	"context"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
)

func TestAnOutlookOfSomebodyWhoHasGoneIsNotShownToOthers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		site := planted(t, "2026-03-02", firstStage)
		all := newOutlooks()
		gone, leave := context.WithCancel(t.Context())
		from := site.Batches[0].Transplanted
		work := func(ctx context.Context) func() (*outlook.Outlook, error) {
			return func() (*outlook.Outlook, error) {
				<-ctx.Done()
				return nil, ctx.Err()
			}
		}
		go func() {
			_, err := all.of(gone, from, 3, work(gone))
			assert.ErrorIs(t, err, context.Canceled)
		}()
		synctest.Wait()
		got := make(chan *outlook.Outlook)
		for range 3 {
			go func() {
				o, err := all.of(t.Context(), from, 3, func() (*outlook.Outlook, error) {
					return outlook.Of(site, from, 3, &grow.Record{Now: from.At(0).In(site.Zone)})
				})
				assert.NoError(t, err)
				got <- o
			}()
		}
		synctest.Wait()
		leave()
		first := <-got
		require.NotNil(t, first.Learned)
		assert.Same(t, first, <-got, "worked out once")
		assert.Same(t, first, <-got)
	})
}

func TestWhoWaitsForAnOutlookMayLeave(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		all := newOutlooks()
		all.one <- struct{}{}
		gone, leave := context.WithCancel(t.Context())
		leave()
		_, err := all.of(gone, 0, 3, nil)
		assert.ErrorIs(t, err, context.Canceled)
	})
}

// What was worked out while something changed serves those who asked before, and
// nobody after.
func TestAnOutlookThatWasOvertakenIsWorkedOutAnew(t *testing.T) {
	site := planted(t, "2026-03-02", firstStage)
	all := newOutlooks()
	from := site.Batches[0].Transplanted
	times := 0
	of := func(meanwhile func()) {
		_, err := all.of(t.Context(), from, 3, func() (*outlook.Outlook, error) {
			times++
			meanwhile()
			return outlook.Of(site, from, 3, nil)
		})
		require.NoError(t, err)
	}
	of(all.forget)
	of(func() {})
	assert.Equal(t, 2, times)
	of(func() {})
	assert.Equal(t, 2, times, "nothing has changed")
}
