package web

import "runtime"

// seats are where answers are computed: one fewer than there are processors, so
// that whatever is asked, and by how many, there is a processor on which nothing
// computes for long and the loop's next turn is begun. Whoever waits for a seat
// is served in order. Nobody keeps one while he waits for storage, for a turn of
// the loop or for a reader.
type seats chan struct{}

func newSeats() seats { return make(seats, max(1, runtime.GOMAXPROCS(0)-1)) }

// take runs f in the next free seat.
func (s seats) take(f func()) {
	s <- struct{}{}
	defer func() { <-s }()
	f()
}
