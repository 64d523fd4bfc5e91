package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"

	"benchtide/controller/live"
)

// Bounds of the event streams.
const (
	mostClients  = 256
	mostOpen     = 128                    // of them strangers, where status is left open: the rest is kept for who is logged in and for this machine
	clientBuffer = 32                     // messages that wait for a slow client; it misses what comes on top
	hubBuffer    = 256                    // events between two passes of the hub
	settle       = 250 * time.Millisecond // events this close share one snapshot
	beat         = time.Second            // a snapshot at least this often: a page that hears none for three is out of date
	writeWithin  = 10 * time.Second       // else the client is cut
)

// hub passes events and snapshots of the site on to any number of clients. A
// snapshot is made once for all of them, after events and at every beat.
type hub struct {
	status func(context.Context) (live.Status, error)
	seats  seats
	first  *together // the snapshot of whoever joins, for all who join at once
	events chan live.Event
	joined chan struct{}   // the first of all that look
	ctx    context.Context // until close
	cancel context.CancelFunc
	done   chan struct{}

	mu      sync.Mutex
	clients map[chan []byte]bool // whether a stranger listens
	open    int                  // strangers
	closed  bool
}

func newHub(status func(context.Context) (live.Status, error), s seats) *hub {
	h := &hub{
		status: status, seats: s, events: make(chan live.Event, hubBuffer), joined: make(chan struct{}, 1), done: make(chan struct{}),
		clients: make(map[chan []byte]bool),
	}
	h.first = newTogether(h.snapshot)
	h.ctx, h.cancel = context.WithCancel(context.Background())
	go h.run()
	return h
}

// publish takes an event, and drops it when the hub is behind: the next
// snapshot shows where things are.
func (h *hub) publish(e live.Event) {
	select {
	case h.events <- e:
	default:
	}
}

func (h *hub) run() {
	defer close(h.done)
	snapshot := time.NewTimer(beat)
	defer snapshot.Stop()
	soon := false // the snapshot is due at the end of settle
	for {
		select {
		case e := <-h.events:
			h.broadcast("event", e)
			if !soon {
				soon = true
				snapshot.Reset(settle)
			}
		case <-h.joined:
			if !soon {
				snapshot.Reset(beat)
			}
		case <-snapshot.C:
			soon = false
			if h.count() > 0 { // while nobody looks, nothing wakes
				snapshot.Reset(beat)
				h.show()
			}
		case <-h.ctx.Done():
			return
		}
	}
}

// show passes a snapshot on.
func (h *hub) show() {
	if st, err := h.status(h.ctx); err == nil {
		h.broadcast("status", st)
	}
}

func (h *hub) count() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.clients)
}

// snapshot writes the message that a stream begins with.
func (h *hub) snapshot(w http.ResponseWriter, r *http.Request) error {
	st, err := h.status(r.Context())
	if err != nil {
		return err
	}
	_, err = w.Write(h.message("status", st))
	return err
}

func (h *hub) message(kind string, v any) (m []byte) {
	h.seats.take(func() {
		data, err := json.Marshal(v)
		if err != nil { // of our own types none fails
			return
		}
		m = fmt.Appendf(nil, "event: %s\ndata: %s\n\n", kind, data)
	})
	return m
}

// broadcast gives every client a message. One that is behind misses it: a snapshot
// of where things are comes within a beat, and one that reads nothing at all is
// cut when its write takes too long.
func (h *hub) broadcast(kind string, v any) {
	if h.count() == 0 {
		return
	}
	m := h.message(kind, v)
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.clients {
		select {
		case c <- m:
		default:
		}
	}
}

// join adds a client; nil, with the reason, when there are too many.
func (h *hub) join(stranger bool) (chan []byte, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	switch {
	case h.closed:
		return nil, fmt.Errorf("%w: it is being stopped or has its file read again; try again in a moment", live.ErrUnavailable)
	case len(h.clients) >= mostClients:
		return nil, tooMany{fmt.Sprintf("too many are listening: %d pages and programs at once; close one, or ask for status in place of the stream", mostClients)}
	case stranger && h.open >= mostOpen:
		return nil, tooMany{fmt.Sprintf("too many are listening without a log-in: %d at once; log in, or ask for status in place of the stream", mostOpen)}
	}
	c := make(chan []byte, clientBuffer)
	h.clients[c] = stranger
	if stranger {
		h.open++
	}
	if len(h.clients) == 1 {
		select {
		case h.joined <- struct{}{}:
		default:
		}
	}
	return c, nil
}

func (h *hub) leave(c chan []byte) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.clients[c] {
		h.open--
	}
	delete(h.clients, c)
}

// close cuts every client.
func (h *hub) close() {
	h.mu.Lock()
	if h.closed {
		h.mu.Unlock()
		return
	}
	h.closed = true
	for c := range h.clients {
		close(c)
	}
	clear(h.clients)
	h.open = 0
	h.mu.Unlock()
	h.cancel()
	<-h.done
}

// serve is one client's stream: a snapshot, then events and snapshots as they
// come.
func (h *hub) serve(w http.ResponseWriter, r *http.Request) error {
	if r.Method == http.MethodHead {
		w.Header().Set("Content-Type", "text/event-stream")
		return nil
	}
	first, err := h.first.answer(r, "")
	if err != nil {
		return err
	}
	c, err := h.join(isStranger(r))
	if err != nil {
		return err
	}
	defer h.leave(c)
	w.Header().Set("Content-Type", "text/event-stream")
	out := http.NewResponseController(w)
	send := func(m []byte) bool {
		_ = out.SetWriteDeadline(time.Now().Add(writeWithin)) // a server that cannot has its own
		_, err := w.Write(m)
		return err == nil && out.Flush() == nil
	}
	if !send(first.body.Bytes()) {
		return nil
	}
	for {
		select {
		case m, ok := <-c:
			if !ok || !send(m) {
				return nil
			}
		case <-r.Context().Done():
			return nil
		}
	}
}
