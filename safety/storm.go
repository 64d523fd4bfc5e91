package safety

import (
	"fmt"
	"time"
)

// A restart storm is this many program starts within the window, with a pump
// run in each; the pumps rest for as long from the last of them.
const (
	stormStarts = 3
	stormWindow = 30 * time.Minute
)

// storm keeps what is known of program starts.
type storm struct {
	ran    bool            // a pump has run in this program
	starts []time.Duration // of programs in which one has, since the last storm
	storms []time.Duration // the last starts of earlier storms
}

// rest reports whether the pumps rest from a storm, and until when.
func (s *storm) rest(now time.Duration) (until time.Duration, resting bool) {
	if len(s.storms) == 0 {
		return 0, false
	}
	until = s.storms[len(s.storms)-1] + stormWindow
	return until, now < until
}

// countProgramRun notes the first run of this program. It reports false when
// that makes the second storm within a day, which latches every bench.
func (g *Guard) countProgramRun() bool {
	s := &g.storm
	if s.ran {
		return true
	}
	s.ran, g.dirty = true, true
	s.starts = last(append(s.starts, g.program), stormStarts)
	if len(s.starts) < stormStarts || g.program-s.starts[0] > stormWindow {
		return true
	}
	s.starts = nil
	s.storms = recent(s.storms, g.program, day)
	if len(s.storms) == 1 {
		g.emit(Event{Kind: Tripped, Bench: -1, Interlock: RestartStorm, Detail: stormDetail()})
		return true
	}
	for i := range g.benches {
		g.trip(i, RestartStorm, true, stormDetail()+", for the second time within 24 hours")
	}
	g.again = true
	return false
}

func stormDetail() string {
	return fmt.Sprintf("%d program starts within %.0f minutes with a pump run in each", stormStarts, stormWindow.Minutes())
}

// last returns the last n of times.
func last(times []time.Duration, n int) []time.Duration { return times[max(0, len(times)-n):] }
