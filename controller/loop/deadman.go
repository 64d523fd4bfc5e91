package loop

import (
	"sync"
	"sync/atomic"
	"time"

	"benchtide/safety"
)

// deadManAfter is how much later than planned a turn may come while anything
// runs before the dead-man puts every output off.
const deadManAfter = time.Second

// deadMan watches the turns from outside the loop's goroutine. All it can do
// is apply the zero Command, again each second until a turn comes: a Command
// that was on its way to the board when it acted may have arrived later.
type deadMan struct {
	board interface{ Apply(safety.Command) error }
	acted atomic.Bool

	mu      sync.Mutex  // over the timer; held for no call
	timer   *time.Timer // nil where nobody watches
	resting bool
}

func newDeadMan(board interface{ Apply(safety.Command) error }, on bool) *deadMan {
	d := &deadMan{board: board, resting: true}
	if on {
		d.timer = time.AfterFunc(time.Hour, d.act)
		d.timer.Stop()
	}
	return d
}

// act puts every output off. A turn that has come in the very moment in which
// the time was up has set the dead-man to rest or wound it up anew; then it
// acts all the same, and the next turn is told.
func (d *deadMan) act() {
	d.acted.Store(true)
	_ = d.board.Apply(safety.Command{})
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.timer != nil && !d.resting {
		d.timer.Reset(deadManAfter)
	}
}

// bit reports whether the dead-man has acted since the last question: the
// command of the turn that it overtook must not energise anything any more.
func (d *deadMan) bit() bool { return d.acted.Load() && d.acted.Swap(false) }

// watch expects the next turn within the time given; with nothing running it
// rests.
func (d *deadMan) watch(within time.Duration, running bool) {
	if d.timer == nil {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.resting = !running
	if running {
		d.timer.Reset(max(0, within) + deadManAfter)
		return
	}
	d.timer.Stop()
}

func (d *deadMan) rest() { d.watch(0, false) }
