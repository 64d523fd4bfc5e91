package loop

import (
	"sync/atomic"
	"time"

	"benchtide/safety"
)

// deadManAfter is how much later than planned a turn may come while anything
// runs before the dead-man puts every output off.
const deadManAfter = time.Second

// deadMan watches the turns from outside the loop's goroutine. All it can do
// is apply the zero Command.
type deadMan struct {
	board interface{ Apply(safety.Command) error }
	timer *time.Timer
	acted atomic.Bool
}

func newDeadMan(board interface{ Apply(safety.Command) error }, on bool) *deadMan {
	d := &deadMan{board: board}
	if on {
		d.timer = time.AfterFunc(time.Hour, d.act)
		d.timer.Stop()
	}
	return d
}

func (d *deadMan) act() {
	d.acted.Store(true)
	_ = d.board.Apply(safety.Command{})
}

// bit reports whether the dead-man has acted since the last question: the
// command of the turn that it overtook must not energise anything any more.
func (d *deadMan) bit() bool { return d.acted.Swap(false) }

// watch expects the next turn within the time given; with nothing running it
// rests.
func (d *deadMan) watch(within time.Duration, running bool) {
	switch {
	case d.timer == nil:
	case running:
		d.timer.Reset(max(0, within) + deadManAfter)
	default:
		d.timer.Stop()
	}
}

func (d *deadMan) rest() {
	if d.timer != nil {
		d.timer.Stop()
	}
}
