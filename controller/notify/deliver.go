package notify

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchtide/controller/notify/outbox"
)

// deliver takes the messages of one channel to it, in order, until ctx ends.
func (d *Dispatcher) deliver(ctx context.Context, w *channel) {
	for {
		r, wait := d.next(w)
		if r == nil {
			if !rest(ctx, w.wake, wait) {
				return
			}
			continue
		}
		attempt, cancel := context.WithTimeout(ctx, sendIn)
		err := w.Send(attempt, &r.Message)
		cancel()
		if ctx.Err() != nil && err != nil {
			return // it waits for the next start
		}
		d.note(w, r, err)
	}
}

// rest waits to be woken, or for a time; false when ctx ends.
func rest(ctx context.Context, wake <-chan struct{}, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-wake:
	case <-timer.C:
	case <-ctx.Done():
		return false
	}
	return true
}

// idle is how often a channel is looked at that has nothing to do.
const idle = time.Hour

// next is the message to try now; without one, when to look again.
func (d *Dispatcher) next(w *channel) (*row, time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := time.Now()
	d.expire(w, now)
	if now.Before(w.after) {
		return nil, w.after.Sub(now)
	}
	wait := idle
	for _, r := range d.rows {
		if r.Channel != w.Name() {
			continue
		}
		if now.Before(r.after) {
			wait = min(wait, r.after.Sub(now))
			continue
		}
		return r, 0
	}
	return nil, wait
}

// countEvery is how often the time that messages have waited is written down.
const countEvery = time.Hour

// expire lets the messages of a channel grow older by the time that passed, and
// gives up those whose time is over.
func (d *Dispatcher) expire(w *channel, now time.Time) {
	passed := now.Sub(w.at)
	w.at = now
	for _, r := range d.rows {
		if r.Channel != w.Name() {
			continue
		}
		r.left -= passed
		switch {
		case r.left <= 0:
			if r.error == "" {
				r.error = w.trouble // of those before it
			}
			d.giveUp(r)
		case r.counted-r.left >= countEvery:
			r.counted = r.left
			d.changed(routine)
		}
	}
	d.sweep()
}

// settle ends the waiting of a message; sweep is to follow.
func (d *Dispatcher) settle(r *row) {
	r.over = true
	d.changed(vital)
}

// giveUp ends the waiting of a message that nobody took; sweep is to follow.
func (d *Dispatcher) giveUp(r *row) {
	d.lose(r.asLost())
	d.settle(r)
}

// mostLost bounds what is kept of messages that nobody took.
const mostLost = 1000

func (d *Dispatcher) lose(l outbox.Lost) {
	d.lost = append(d.lost, l)
	if over := len(d.lost) - mostLost; over > 0 {
		d.lost = slices.Delete(d.lost, 0, over)
	}
}

// sweep takes messages that wait no more out of memory.
func (d *Dispatcher) sweep() {
	d.rows = slices.DeleteFunc(d.rows, func(r *row) bool { return r.over })
}

// note writes down how an attempt went.
func (d *Dispatcher) note(w *channel, r *row, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := time.Now()
	if err == nil {
		d.tellOf(w, "")
		w.delivered++
		w.tries, w.after = 0, time.Time{}
		w.fares.Sent = d.now().Wall
		d.settle(r)
		d.sweep()
		return
	}
	w.failed++
	r.tries++
	r.error = brief(err)
	if errors.Is(err, context.DeadlineExceeded) {
		r.error = fmt.Sprintf("no answer within %s", sendIn)
	}
	d.tellOf(w, r.error)
	if isRefused(err) {
		r.after = now.Add(retryIn(r.tries))
		return
	}
	w.tries++
	w.after = now.Add(retryIn(w.tries))
}

// failingFor is how long a channel may fail before a person is told by the others.
const failingFor = 30 * time.Minute

// tellOf tells once when a channel has failed for a while, and once when it works
// again.
func (d *Dispatcher) tellOf(w *channel, trouble string) {
	if w.trouble == "" {
		w.since = time.Now()
	}
	w.trouble = trouble
	began := trouble != "" && !w.told && time.Since(w.since) >= failingFor
	ended := trouble == "" && w.told
	if began || ended {
		w.told = began
		if d.o.Failing != nil {
			d.o.Failing(w.Name(), trouble)
		}
	}
}
