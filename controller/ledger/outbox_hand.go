package ledger

import "benchtide/controller/notify/outbox"

// Outbox returns the messages as they were kept before the ledger was opened.
func (l *Ledger) Outbox() outbox.State { return l.before }

// Keep takes the newest state of the messages. It only puts it into memory and
// never waits for storage. What is not to be there soon goes with the next write
// that something else needs.
func (l *Ledger) Keep(s outbox.State, soon bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.next.outbox = l.next.outbox.followedBy(&handed{s, soon})
	if soon {
		l.signal(true)
	}
}

// OnFound has f called, from any goroutine, with the messages that were kept
// before, should they become readable only while the program runs. It must not
// wait.
func (l *Ledger) OnFound(f func(outbox.State)) {
	l.mu.Lock()
	late := l.foundLate
	l.onFound = f
	l.mu.Unlock()
	if late != nil && f != nil {
		f(*late)
	}
}

// tellLate hands on what has become readable.
func (l *Ledger) tellLate() {
	p := &l.store.post
	if !p.tell {
		return
	}
	p.tell = false
	l.mu.Lock()
	l.foundLate = p.late
	f := l.onFound
	l.mu.Unlock()
	if f != nil {
		f(*l.foundLate)
	}
}

// Trouble says why the last write failed; nil when it went well.
func (l *Ledger) Trouble() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.stats.Trouble
}
