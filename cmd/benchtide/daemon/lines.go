package daemon

import (
	"fmt"
	"io"
	"slices"
	"sync/atomic"
	"time"
)

// lines passes whole lines on without ever making their writer wait: a
// terminal that is held, or a reader that has stalled, must not hold up the
// turns of the loop. Lines that nobody takes are dropped, and their number is
// told once somebody reads again.
type lines struct {
	queue   chan []byte
	done    chan struct{}
	dropped atomic.Int64
}

const (
	linesKept  = 4096
	linesGrace = time.Second // for the last lines at the end
)

func newLines(w io.Writer) *lines {
	l := &lines{queue: make(chan []byte, linesKept), done: make(chan struct{})}
	go l.pass(w)
	return l
}

func (l *lines) pass(w io.Writer) {
	defer close(l.done)
	for line := range l.queue {
		if n := l.dropped.Swap(0); n > 0 {
			fmt.Fprintf(w, "(%d lines were lost: nobody read them)\n", n)
		}
		_, _ = w.Write(line) // a reader that has gone is no reason to stop
	}
}

// Write takes one line. It is not for use after Close.
func (l *lines) Write(line []byte) (int, error) {
	select {
	case l.queue <- slices.Clone(line):
	default:
		l.dropped.Add(1)
	}
	return len(line), nil
}

// Close lets the last lines out, for a moment at most.
func (l *lines) Close() {
	close(l.queue)
	select {
	case <-l.done:
	case <-time.After(linesGrace):
	}
}
