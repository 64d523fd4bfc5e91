package notify

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"sync"
	"time"
)

// Heartbeat calls an address outside for as long as the loop lives, so that
// somebody else notices when it does not. A call never comes from a timer
// alone: when one is due the loop is woken, and only a turn after that which
// came in time and reached the board lets the call go out.
type Heartbeat struct {
	Method string // GET or POST
	URL    Secret // in a file of its own, or
	Plain  string // where it is no secret
	Every  time.Duration
	Client *http.Client

	once  sync.Once
	alive chan struct{}
	mu    sync.Mutex // over all below
	last  time.Time  // when a call was answered last
	sent  uint64
	fails uint64
	error string
}

func (h *Heartbeat) init() {
	h.once.Do(func() { h.alive = make(chan struct{}, 1) })
}

// Alive says that a turn came in time and reached the board. It never waits.
func (h *Heartbeat) Alive() {
	h.init()
	select {
	case h.alive <- struct{}{}:
	default:
	}
}

// Run calls until ctx ends. wake asks the loop for a turn.
func (h *Heartbeat) Run(ctx context.Context, wake func()) {
	h.init()
	ticker := time.NewTicker(h.Every)
	defer ticker.Stop()
	for {
		select { // forget a turn from before the question
		case <-h.alive:
		default:
		}
		wake()
		select {
		case <-h.alive:
			h.call(ctx)
		case <-ctx.Done():
			return
		}
		select {
		case <-ticker.C:
		case <-ctx.Done():
			return
		}
	}
}

func (h *Heartbeat) call(ctx context.Context) {
	err := h.send(ctx)
	h.mu.Lock()
	defer h.mu.Unlock()
	if err != nil {
		h.fails++
		h.error = brief(err)
		return
	}
	h.sent++
	h.last, h.error = time.Now(), ""
}

func (h *Heartbeat) send(ctx context.Context) error {
	to, err := addressOf(h.URL, h.Plain)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, min(h.Every, 20*time.Second))
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, h.Method, to, nil)
	if err != nil {
		return withoutURL(err)
	}
	r.Header.Set("User-Agent", "benchtide")
	answer, err := h.Client.Do(r)
	if err != nil {
		return fmt.Errorf("call: %w", withoutURL(err))
	}
	defer answer.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, answerBody))
	if answer.StatusCode/100 != 2 {
		return fmt.Errorf("call: it answers %q", answer.Status)
	}
	return nil
}

// HeartbeatStatus is how the calls fare.
type HeartbeatStatus struct {
	Last         time.Time // when one was answered; zero when never
	Sent, Failed uint64
	Trouble      string
}

// Status is how it fares.
func (h *Heartbeat) Status() HeartbeatStatus {
	h.mu.Lock()
	defer h.mu.Unlock()
	return HeartbeatStatus{h.last, h.sent, h.fails, h.error}
}
