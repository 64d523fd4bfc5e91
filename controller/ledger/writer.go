package ledger

import (
	"time"
)

// After a write failed it is tried again, each time later than the last.
// Something that must be written now is a reason to try at once.
const (
	firstRetry = 250 * time.Millisecond
	lastRetry  = time.Minute
)

// signal tells the writing goroutine of what waits; the caller holds mu.
func (l *Ledger) signal(urgent bool) {
	c := l.begun
	if urgent || len(l.next.rows) >= l.options.BatchRows {
		c = l.urgent
	}
	select {
	case c <- struct{}{}:
	default:
	}
}

// run writes batches until the ledger is closed.
func (l *Ledger) run() {
	defer close(l.done)
	defer l.store.close()
	timer := time.NewTimer(l.options.BatchFor)
	timer.Stop()
	due := false // the timer runs
	retry := firstRetry
	look := time.NewTicker(probeEvery)
	defer look.Stop()
	for {
		select {
		case <-look.C:
			l.probe()
			continue
		case <-l.begun:
			if !due {
				timer.Reset(l.options.BatchFor)
				due = true
			}
			continue
		case <-l.urgent:
		case <-timer.C:
		case <-l.quit:
			_ = l.flush()
			_ = l.copier.keep(l.held, l.commissioned, true)
			return
		}
		timer.Stop()
		due = false
		if l.flush() == nil {
			retry = firstRetry
			continue
		}
		timer.Reset(retry)
		due, retry = true, min(2*retry, lastRetry)
	}
}

// flush writes what waits. What could not be written goes on waiting, before
// what was recorded meanwhile.
func (l *Ledger) flush() error {
	b := l.begin()
	if b == nil {
		return nil
	}
	err := l.told(l.store.write(b))
	copyErr := l.keepCopy(b, err)
	l.copyOutbox(b)
	l.store.dropOld()
	l.tellLate()
	l.mu.Lock()
	l.going = nil
	l.stats.Copy, l.probed = copyErr, false
	l.stats.Trouble, l.stats.SetAside, l.stats.Damage = err, l.store.aside, l.store.ailment
	if err != nil {
		l.stats.Errors++
		l.next = b.followedBy(l.next)
		l.stats.Dropped += int64(l.next.shed(l.options.MemoryRows))
		l.mu.Unlock()
		return err
	}
	l.acks = append(l.acks, b.acks...)
	wake := l.wake
	l.mu.Unlock()
	for _, c := range b.stored {
		close(c)
	}
	if len(b.acks) > 0 && wake != nil {
		wake()
	}
	_ = l.store.at("acknowledged")
	return nil
}

// keepCopy has the copy hold what the ledger was given, also where the ledger
// did not take it. The intentions that wait for the ledger alone are
// acknowledged after it: what the copy must hold changes seldom.
func (l *Ledger) keepCopy(b *batch, failed error) error {
	if b.checkpoint != nil {
		l.held = b.checkpoint
	}
	l.mu.Lock()
	entries := l.commissioned
	l.mu.Unlock()
	err := l.copier.keep(l.held, entries, false)
	if failed == nil {
		l.store.fold(l.copier.now)
		if err != nil {
			l.copier.revoke(l.held)
		}
	}
	return err
}

// begin takes what waits for writing; nil when nothing does.
func (l *Ledger) begin() *batch {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.next.empty() {
		return nil
	}
	b := l.next
	l.next, l.going = batch{}, &b
	return &b
}
