package web_test

import (
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func ask(h http.Handler, ctx context.Context, header ...string) *httptest.ResponseRecorder {
	q := httptest.NewRequest(http.MethodGet, "/metrics", nil).WithContext(ctx)
	for i := 0; i+1 < len(header); i += 2 {
		q.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, q)
	return w
}

// together is a handler whose answers are made together, by an API that ends with
// the test.
func together(t *testing.T, h http.HandlerFunc, names ...string) http.Handler {
	r := newRig(t)
	t.Cleanup(r.api.Close)
	return r.api.Together(h, names...)
}

// Any number of askers have few answers made, one at a time, and none of them is
// older than its question.
func TestWhoAsksAtOnceSharesAnAnswerThatIsNoOlderThanTheQuestion(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var made, busy atomic.Int64
		h := together(t, func(w http.ResponseWriter, _ *http.Request) {
			assert.Equal(t, int64(1), busy.Add(1), "one at a time")
			begun := made.Add(1)
			time.Sleep(time.Second)
			busy.Add(-1)
			w.Header().Set("Made", strconv.FormatInt(begun, 10))
			_, _ = fmt.Fprint(w, "whole")
		})
		var all sync.WaitGroup
		for i := range 200 {
			all.Go(func() {
				time.Sleep(time.Duration(i) * 50 * time.Millisecond)
				before := made.Load()
				w := ask(h, t.Context())
				assert.Equal(t, "whole", w.Body.String())
				begun, err := strconv.ParseInt(w.Header().Get("Made"), 10, 64)
				assert.NoError(t, err)
				assert.Greater(t, begun, before, "it was begun after it was asked for")
			})
		}
		all.Wait()
		assert.LessOrEqual(t, made.Load(), int64(12), "200 questions in 10 s, of 1 s each")
	})
}

func TestWhatMostPagesAskForIsMadeOnceForAll(t *testing.T) {
	for _, path := range []string{"/status", "/overview"} {
		synctest.Test(t, func(t *testing.T) {
			r := newRig(t)
			defer r.api.Close()
			r.site.slow = time.Second
			var all sync.WaitGroup
			for range 100 {
				all.Go(func() { assert.Equal(t, http.StatusOK, r.request("GET", path, "").Code) })
			}
			all.Wait()
			assert.LessOrEqual(t, r.site.asked.Load(), int64(2), path)
		})
	}
}

func TestWhoAsksForAnotherFormHasAnAnswerOfItsOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := together(t, func(w http.ResponseWriter, r *http.Request) {
			time.Sleep(time.Second)
			_, _ = fmt.Fprint(w, r.Header.Get("Accept"))
		}, "Accept")
		var all sync.WaitGroup
		for i := range 20 {
			all.Go(func() {
				form := fmt.Sprint("form ", i%3)
				assert.Equal(t, form, ask(h, t.Context(), "Accept", form).Body.String())
			})
		}
		all.Wait()
	})
}

// An asker that goes takes nobody's answer with it, and one whose answer panics is
// not alone.
func TestAnAnswerIsNobodysOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		fails := false
		h := together(t, func(w http.ResponseWriter, r *http.Request) {
			time.Sleep(time.Second)
			if fails {
				panic(http.ErrAbortHandler)
			}
			require.NoError(t, r.Context().Err())
			_, _ = fmt.Fprint(w, "whole")
		})
		gone, cancel := context.WithCancel(t.Context())
		var all sync.WaitGroup
		all.Go(func() { assert.Empty(t, ask(h, gone).Body.String()) })
		synctest.Wait()
		cancel()
		all.Go(func() { assert.Equal(t, "whole", ask(h, t.Context()).Body.String()) })
		all.Wait()
		fails = true
		for range 3 {
			all.Go(func() { assert.PanicsWithValue(t, http.ErrAbortHandler, func() { ask(h, t.Context()) }) })
		}
		all.Wait()
	})
}

// Whatever is asked, by however many, one processor at least is left to the turns.
func TestAnswersAreComputedOnFewerProcessorsThanThereAre(t *testing.T) {
	for processors := range 4 {
		synctest.Test(t, func(t *testing.T) {
			defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors + 1))
			var busy, most atomic.Int64
			h := together(t, func(w http.ResponseWriter, r *http.Request) {
				n := busy.Add(1)
				most.Store(max(most.Load(), n))
				time.Sleep(time.Second)
				busy.Add(-1)
				_, _ = fmt.Fprint(w, r.Header.Get("Accept"))
			}, "Accept")
			begun := time.Now()
			var all sync.WaitGroup
			for i := range 20 {
				all.Go(func() {
					time.Sleep(time.Duration(i))
					form := fmt.Sprint("form ", i)
					assert.Equal(t, form, ask(h, t.Context(), "Accept", form).Body.String())
					seats := max(1, processors)
					assert.Equal(t, i/seats+1, int(time.Since(begun).Round(time.Second)/time.Second), "in the order in which they came")
				})
			}
			all.Wait()
			assert.Equal(t, int64(max(1, processors)), most.Load())
		})
	}
}

func TestWhatIsAskedWithoutAnEndKeepsNoProcessorBusy(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var worked time.Duration
		h := together(t, func(w http.ResponseWriter, _ *http.Request) {
			time.Sleep(10 * time.Millisecond)
			worked += 10 * time.Millisecond
		})
		begun := time.Now()
		assert.Equal(t, http.StatusOK, ask(h, t.Context()).Code)
		assert.Equal(t, 10*time.Millisecond, time.Since(begun), "one alone waits for nobody's rest")
		time.Sleep(time.Second)
		worked, begun = 0, time.Now()
		var all sync.WaitGroup
		for range 200 {
			all.Go(func() {
				for time.Since(begun) < 10*time.Second {
					ask(h, t.Context())
				}
			})
		}
		all.Wait()
		assert.InDelta(t, 1, worked.Seconds(), 0.1, "a tenth of one")
	})
}

func TestWhoeverJoinAtOnceHaveTheirFirstSnapshotMadeOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(t)
		defer r.api.Close()
		r.site.slow = 500 * time.Millisecond
		ctx, leave := context.WithTimeout(t.Context(), 1200*time.Millisecond)
		defer leave()
		var all sync.WaitGroup
		for range 100 {
			all.Go(func() {
				w := httptest.NewRecorder()
				r.api.ServeHTTP(w, httptest.NewRequest("GET", "/api/v1/events", nil).WithContext(ctx))
				assert.Contains(t, w.Body.String(), "event: status\n")
			})
		}
		all.Wait()
		assert.LessOrEqual(t, r.site.asked.Load(), int64(2), "for the first of them, and for all others")
	})
}

// An answer that many share is packed for those who take that, and is the same for
// the others; a small one, and one that its maker packed, are left as they are.
func TestASharedAnswerIsPackedForWhoTakesIt(t *testing.T) {
	long := strings.Repeat("FULL made, water stands ", 200)
	for body, coded := range map[string]string{long: "", "short": "", long + ".": "zstd"} {
		h := together(t, func(w http.ResponseWriter, _ *http.Request) {
			if coded != "" {
				w.Header().Set("Content-Encoding", coded)
			}
			_, _ = io.WriteString(w, body)
		})
		plain, packed := ask(h, t.Context()), ask(h, t.Context(), "Accept-Encoding", "gzip")
		assert.Equal(t, body, plain.Body.String())
		assert.Equal(t, coded, plain.Header().Get("Content-Encoding"))
		if body != long {
			assert.Equal(t, body, packed.Body.String())
			assert.Equal(t, coded, packed.Header().Get("Content-Encoding"))
			continue
		}
		assert.Equal(t, "gzip", packed.Header().Get("Content-Encoding"))
		assert.Equal(t, []string{"Accept-Encoding"}, plain.Header().Values("Vary"))
		z, err := gzip.NewReader(packed.Body)
		require.NoError(t, err)
		back, err := io.ReadAll(z)
		require.NoError(t, err)
		assert.Equal(t, body, string(back))
	}
}
