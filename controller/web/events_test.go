package web_test

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
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
	for name, after := range map[string]int{"before its first snapshot": 0, "at a later one": 1} {
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

// snapshots counts the snapshots that a client is sent.
type snapshots struct {
	*httptest.ResponseRecorder
	n int
}

func (p *snapshots) Write(m []byte) (int, error) {
	if bytes.HasPrefix(m, []byte("event: status\n")) {
		p.n++
	}
	return len(m), nil
}

func TestWhoeverJoinsAfterAQuietTimeGetsSnapshots(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(t)
		defer r.api.Close()
		for range 3 {
			r.api.Publish(live.Event{Kind: "full made"}) // nobody looks
			<-time.After(time.Minute)
			ctx, leave := context.WithTimeout(t.Context(), 10*time.Second+time.Millisecond)
			p := &snapshots{ResponseRecorder: httptest.NewRecorder()}
			r.api.ServeHTTP(p, httptest.NewRequest("GET", "/api/v1/events", nil).WithContext(ctx))
			leave()
			require.GreaterOrEqual(t, p.n, 10, "one a second")
		}
	})
}

func TestTheStreamsEndWhileEventsComeIn(t *testing.T) {
	for range 30 {
		r := newRig(t)
		for range 100 {
			r.api.Publish(live.Event{Kind: "full made"})
		}
		ended := make(chan struct{})
		go func() {
			r.api.Close()
			close(ended)
		}()
		select {
		case <-ended:
		case <-time.After(time.Minute):
			t.Fatal("close waits for what waits for close")
		}
	}
}
