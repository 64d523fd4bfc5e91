package notify

import (
	"context"
	"io"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
)

// answers stands for the address outside.
type answers struct {
	code  int
	calls atomic.Int64
}

func (a *answers) RoundTrip(*http.Request) (*http.Response, error) {
	a.calls.Add(1)
	return &http.Response{StatusCode: a.code, Status: http.StatusText(a.code), Body: io.NopCloser(strings.NewReader(""))}, nil
}

func TestHeartbeatGoesOutAfterATurnThatReachedTheBoardAndNeverOtherwise(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		outside := &answers{code: http.StatusOK}
		h := &Heartbeat{Method: http.MethodGet, Plain: "https://example.org/x", Every: 5 * time.Minute, Client: &http.Client{Transport: outside}}
		ctx, cancel := context.WithCancel(t.Context())
		var hangs atomic.Bool
		h.Alive() // a turn from before the question does not count
		go h.Run(ctx, func() {
			if !hangs.Load() {
				go h.Alive()
			}
		})
		synctest.Wait()
		assert.EqualValues(t, 1, outside.calls.Load())
		time.Sleep(20*time.Minute + time.Second)
		synctest.Wait()
		assert.EqualValues(t, 5, outside.calls.Load())
		hangs.Store(true)
		time.Sleep(time.Hour)
		synctest.Wait()
		assert.EqualValues(t, 5, outside.calls.Load(), "the loop hangs: nobody outside hears from it")
		cancel()
		synctest.Wait()
		assert.Equal(t, uint64(5), h.Status().Sent)
	})
}

// slowAnswers takes its time over each answer, and notes when it was asked.
type slowAnswers struct {
	takes, hangs time.Duration // hangs for the third alone
	from         time.Time
	asked        []time.Duration
}

func (a *slowAnswers) RoundTrip(r *http.Request) (*http.Response, error) {
	a.asked = append(a.asked, time.Since(a.from))
	takes := a.takes
	if len(a.asked) == 3 {
		takes = a.hangs
	}
	select {
	case <-time.After(takes):
	case <-r.Context().Done():
		return nil, r.Context().Err()
	}
	return &http.Response{StatusCode: http.StatusOK, Body: io.NopCloser(strings.NewReader(""))}, nil
}

// Whoever listens outside counts on the pace: calls come at multiples of it from
// the first one on, however long answers take and turns are waited for.
func TestHeartbeatKeepsItsPaceHoweverSlowTheAnswersAre(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const every = time.Minute
		outside := &slowAnswers{takes: 7 * time.Second, hangs: time.Hour, from: time.Now()}
		h := &Heartbeat{Method: http.MethodGet, Plain: "https://example.org/x", Every: every, Client: &http.Client{Transport: outside}}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		go h.Run(ctx, func() { time.AfterFunc(2*time.Second, h.Alive) }) // a loop that is slow to take its turn
		time.Sleep(50*every + every/2)
		synctest.Wait()
		var want []time.Duration
		for n := range 51 {
			want = append(want, time.Duration(n)*every+2*time.Second)
		}
		assert.Equal(t, want, outside.asked)
		assert.EqualValues(t, 1, h.Status().Failed, "the one that was not answered")
	})
}

func TestHeartbeatThatIsNotAnsweredSaysSo(t *testing.T) {
	h := &Heartbeat{Method: http.MethodPost, Plain: "https://example.org/x", Every: time.Minute, Client: &http.Client{Transport: &answers{code: http.StatusNotFound}}}
	h.call(t.Context())
	st := h.Status()
	assert.Equal(t, uint64(1), st.Failed)
	assert.True(t, st.Last.IsZero())
	assert.Contains(t, st.Trouble, "Not Found")
}
