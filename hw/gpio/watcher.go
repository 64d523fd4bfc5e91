package gpio

import "time"

// watcher reads a bank behind a bus beside the turns, once for each. A turn
// waits for it no longer than its patience, and takes the last reading with
// the time at which it was asked for.
type watcher struct {
	bank  *bank
	nudge chan time.Duration // holds one: the boot-time clock of the turn that asks
	exchange
	bits uint64
	read bool          // there was a reading
	at   time.Duration // when the reading was asked for
}

func watch(b *bank) *watcher {
	w := &watcher{bank: b, nudge: make(chan time.Duration, 1), exchange: newExchange()}
	go w.run()
	return w
}

func (w *watcher) run() {
	defer close(w.gone)
	for at := range w.nudge {
		w.mu.Lock()
		ended := w.ended
		w.mu.Unlock()
		if ended {
			return
		}
		bits, err := w.bank.levels()
		w.mu.Lock()
		if err == nil {
			w.bits, w.at, w.read = bits, at, true
		}
		w.answered(err)
		w.mu.Unlock()
	}
}

// ask wants a reading for the turn at that time, and returns what is closed
// when the next one is there.
func (w *watcher) ask(at time.Duration) <-chan struct{} {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.asked.IsZero() {
		w.asked = time.Now()
	}
	select {
	case w.nudge <- at:
	default: // it is to read already
	}
	return w.served
}

func (w *watcher) wait(served <-chan struct{}, limit time.Duration) {
	select {
	case <-served:
	case <-time.After(limit):
	}
}

// look returns the last reading and when it was asked for.
func (w *watcher) look(now time.Duration) (uint64, time.Duration, error) {
	served := w.ask(now)
	if w.trouble() == nil {
		w.wait(served, patience)
	}
	err := w.trouble()
	w.mu.Lock()
	defer w.mu.Unlock()
	if err == nil && !w.read {
		err = errSilent // nothing was ever read
	}
	return w.bits, w.at, err
}

// first waits for the first reading.
func (w *watcher) first() error {
	w.wait(w.ask(0), farewell)
	return w.trouble()
}

// end releases the lines as soon as the bus lets go of them.
func (w *watcher) end() error {
	w.mu.Lock()
	w.ended = true
	w.mu.Unlock()
	w.ask(0)
	return w.leave(w.bank.release)
}
