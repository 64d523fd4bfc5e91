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

func TestHeartbeatThatIsNotAnsweredSaysSo(t *testing.T) {
	h := &Heartbeat{Method: http.MethodPost, Plain: "https://example.org/x", Every: time.Minute, Client: &http.Client{Transport: &answers{code: http.StatusNotFound}}}
	h.call(t.Context())
	st := h.Status()
	assert.Equal(t, uint64(1), st.Failed)
	assert.True(t, st.Last.IsZero())
	assert.Contains(t, st.Trouble, "Not Found")
}
