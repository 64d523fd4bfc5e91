package notify

import (
	"context"
	"io"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
)

// answers stands for the address outside.
type answers struct {
	code  int
	calls int
}

func (a *answers) RoundTrip(*http.Request) (*http.Response, error) {
	a.calls++
	return &http.Response{StatusCode: a.code, Status: http.StatusText(a.code), Body: io.NopCloser(strings.NewReader(""))}, nil
}

func TestHeartbeatGoesOutAfterATurnThatReachedTheBoardAndNeverOtherwise(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		outside := &answers{code: http.StatusOK}
		h := &Heartbeat{Method: http.MethodGet, Plain: "https://example.org/x", Every: 5 * time.Minute, Client: &http.Client{Transport: outside}}
		ctx, cancel := context.WithCancel(t.Context())
		lives := true
		h.Alive() // a turn from before the question does not count
		go h.Run(ctx, func() {
			if lives {
				go h.Alive()
			}
		})
		synctest.Wait()
		assert.Equal(t, 1, outside.calls)
		time.Sleep(20*time.Minute + time.Second)
		synctest.Wait()
		assert.Equal(t, 5, outside.calls)
		lives = false
		time.Sleep(time.Hour)
		synctest.Wait()
		assert.Equal(t, 5, outside.calls, "the loop hangs: nobody outside hears from it")
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
