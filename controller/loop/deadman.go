package loop

import (
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
}

func newDeadMan(l *Loop) *deadMan {
	d := &deadMan{board: l.Board}
	if l.DeadMan {
		d.timer = time.AfterFunc(time.Hour, d.act)
		d.timer.Stop()
	}
	return d
}

func (d *deadMan) act() { _ = d.board.Apply(safety.Command{}) }

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
