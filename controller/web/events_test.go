package web_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"benchtide/controller/web"
)

// broken is a client that is gone after so many messages.
type broken struct {
	*httptest.ResponseRecorder
	after int
}

func (b *broken) Write(p []byte) (int, error) {
	if b.after--; b.after < 0 {
		return 0, io.ErrClosedPipe
	}
	return len(p), nil
}

func TestAStreamThatEndsGivesItsPlaceBackHoweverItEnds(t *testing.T) {
	for name, after := range map[string]int{"before its first picture": 0, "at a later one": 1} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := newRig(t)
				defer r.api.Close()
				for range web.MostClients + 1 { // one after the other: each is gone before the next comes
					w := &broken{httptest.NewRecorder(), after}
					r.api.ServeHTTP(w, httptest.NewRequest("GET", "/api/v1/events", nil))
					require.Equal(t, http.StatusOK, w.Code)
				}
			})
		})
	}
	t.Run("by the client", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig(t)
			defer r.api.Close()
			for range 3 {
				ctx, cancel := context.WithCancel(t.Context())
				codes := make(chan int, web.MostClients)
				for range web.MostClients {
					go func() {
						w := httptest.NewRecorder()
						r.api.ServeHTTP(w, httptest.NewRequest("GET", "/api/v1/events", nil).WithContext(ctx))
						codes <- w.Code
					}()
				}
				synctest.Wait()
				cancel()
				for range web.MostClients {
					require.Equal(t, http.StatusOK, <-codes)
				}
			}
		})
	})
}
