package web_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"benchtide/controller/live"
	"benchtide/controller/web"
	"benchtide/deploy/measure/cost"
)

// counting is a client that tells of each event.
type counting struct {
	http.ResponseWriter
	events chan<- struct{}
	joined chan<- struct{}
}

func (c *counting) Write(p []byte) (int, error) {
	switch {
	case bytes.HasPrefix(p, []byte("event: event\n")):
		c.events <- struct{}{}
	case c.joined != nil:
		c.joined <- struct{}{}
		c.joined = nil
	}
	return len(p), nil
}

// Flush is for http.ResponseController.
func (c *counting) Flush() {}

// BenchmarkStream is one event on its way to every client.
func BenchmarkStream(b *testing.B) {
	for _, n := range []int{1, 4, 16, 64, web.MostClients} {
		b.Run(fmt.Sprintf("clients=%d", n), func(b *testing.B) {
			r := newRig(b)
			ctx, stop := context.WithCancel(context.Background())
			defer stop()
			events, joined := make(chan struct{}, n), make(chan struct{}, n)
			for range n {
				w := &counting{httptest.NewRecorder(), events, joined}
				go r.api.ServeHTTP(w, httptest.NewRequest("GET", "/api/v1/events", nil).WithContext(ctx))
				<-joined
			}
			b.ReportAllocs()
			begun := cost.Used()
			for b.Loop() {
				r.api.Publish(live.Event{At: "2026-03-12T12:00:00+00:00", Kind: "full made", Level: "info", Bench: "north", Text: "FULL made after 3m3s"})
				for range n {
					<-events
				}
			}
			cost.Report(b, begun)
		})
	}
}
