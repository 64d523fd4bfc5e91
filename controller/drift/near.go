package drift

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// Windows are the times that the guard allows a flood's; a zero one has no end.
type Windows struct {
	FillFrom, FillBy time.Duration // for FULL, from the pump's start
	FallBy           time.Duration // for FULL to clear, from its stop
	DrainBy          time.Duration // for EMPTY to clear, from its stop
}

// NearLimit is the cause when a time of the bench comes near the end of its
// window though it has not changed: nobody timed the bench, or it has crept up
// on the baseline.
const NearLimit Cause = "times near their limit"

// Edge is a time that has little left of its window.
type Edge struct {
	Did   string // such as fell
	Took  time.Duration
	Limit time.Duration
	Early bool // Limit is the start of the window
}

const (
	tight = 0.9 // of a limit: dry pots and the level of the reservoir alone may take what is left
	again = 2   // floods in a row that have to come so near; one may have met very dry pots
)

// Edge is the time of a flood that has least left of its window, nil when all
// have a tenth or more.
func (w Windows) Edge(f Flood) (nearest *Edge) {
	most := tight
	edges := [...]Edge{{"fell", f.Fall, w.FallBy, false}, {"drained", f.Drain, w.DrainBy, false}, {"filled", f.Fill, w.FillBy, false}, {"filled", f.Fill, w.FillFrom, true}}
	for i := range edges {
		e := &edges[i]
		if e.Limit == 0 || e.Took == 0 {
			continue
		}
		share := float64(e.Took) / float64(e.Limit)
		if e.Early {
			share = 1 / share
		}
		if share > most {
			most, nearest = share, e
		}
	}
	return nearest
}

// near follows how near floods come to their limits.
type near struct {
	Row   int // floods in a row that came near
	Told  bool
	Quiet int // floods in a row that did not, after it was told
}

// after takes one flood, and says which time is near its limit when that has to
// be told.
func (n near) after(e *Edge) (near, *Edge) {
	if e == nil {
		n.Row = 0
		if n.Quiet++; n.Quiet >= calm {
			return near{}, nil
		}
		return n, nil
	}
	n.Row, n.Quiet = n.Row+1, 0
	if n.Told || n.Row < again {
		return n, nil
	}
	n.Told = true
	return n, e
}

// String says in one message how near, what follows, and what to do.
func (e Edge) String() string {
	took, limit := safety.Spell(e.Took), safety.Spell(e.Limit)
	if e.Early {
		return fmt.Sprintf("the table %s in %s, and before %s a flood is stopped. Chore: see that the table is bare before a flood and FULL at its mark; if all is as it should be, have the bench timed with benchtide commission.", e.Did, took, limit)
	}
	look := "the drain, the mouth of the standpipe and what leans on the floats"
	if e.Did == "filled" {
		look = "the intake screen, the hose and the FULL float"
	}
	return fmt.Sprintf("the table %s in %s, and past %s the bench stops. Chore: look at %s today; if all is as it should be, have the bench timed with benchtide commission.", e.Did, took, limit, look)
}
