package safety

import (
	"fmt"
	"time"
)

// MinFallLimit is the least time FULL is given to clear after a run.
const MinFallLimit = 2 * time.Minute

// checkDrain follows the water of bench i home after a run.
func (g *Guard) checkDrain(i int) {
	b := &g.benches[i]
	if b.pump || b.run.water == Gone {
		return
	}
	g.judgeWeld(i)
	g.checkOverdue(i)
	g.checkHome(i)
	g.checkGone(i)
}

// checkOverdue opens the enable relay and latches when the water stands too long.
func (g *Guard) checkOverdue(i int) {
	b := &g.benches[i]
	r := &b.run
	full, empty := r.stopped+b.FallLimit(), r.stopped+half3(b.Drain)
	switch {
	case r.late:
	case g.overdue(&b.full, full):
		r.judging, r.openedAt = r.held, g.now.Mono
		g.latchOverdue(i, "FULL", b.FallLimit())
	case g.overdue(&b.empty, empty):
		g.latchOverdue(i, "EMPTY", half3(b.Drain))
	}
}

// overdue reports whether a switch that had to clear by a time has not. One
// that cleared and was made again later is another matter.
func (g *Guard) overdue(f *filter, by time.Duration) bool {
	return g.now.Mono >= by && f.Level == Wet && f.Since <= by && !f.reached(Dry, by)
}

// latchOverdue latches what follows a run as drain-window; water that a
// program start found has no run of its own and is not-empty.
func (g *Guard) latchOverdue(i int, name string, limit time.Duration) {
	b := &g.benches[i]
	b.run.late = true
	why, detail := DrainWindow, fmt.Sprintf("%s has not cleared %s after the pump stopped", name, Spell(limit))
	if b.run.assumed {
		why, detail = NotEmpty, fmt.Sprintf("%s has not cleared %s after the program started", name, Spell(limit))
	}
	if b.enable < 0 {
		detail += "; no enable relay can part a welded pump: pull its plug"
	}
	g.trip(i, why, true, detail)
	g.openEnable(b.enable, i, why, detail)
}

// judgeWeld proves a welded pump relay: FULL, overdue while the enable relay
// was closed, clears in the time the table takes to fall once it opened.
func (g *Guard) judgeWeld(i int) {
	b := &g.benches[i]
	r := &b.run
	from, to := r.openedAt+b.Fall/2, b.judgedBy()
	switch {
	case !r.judging:
	case b.full.Level == Dry:
		r.judging = false
		if since := b.full.Since; from <= since && since <= to {
			g.proveWeld(i)
		}
	case g.now.Mono >= to && !b.full.reached(Dry, to):
		r.judging = false
	}
}

// judgedBy is when a suspected weld has to have shown.
func (b *bench) judgedBy() time.Duration { return b.run.openedAt + max(half3(b.Fall), b.FallBy) }

// proveWeld latches every bench behind the enable relay of a welded pump.
func (g *Guard) proveWeld(i int) {
	b := &g.benches[i]
	b.weld = true
	g.dirty = true
	g.emit(Event{Kind: WeldProven, Bench: i, Interlock: DrainWindow, Latched: true, Detail: b.text.weld})
	for j := range g.benches {
		if j != i && g.benches[j].enable == b.enable {
			g.trip(j, DrainWindow, true, b.text.weld)
		}
	}
}

// checkGone decides whether the water of the last run is gone, and since when:
// when EMPTY cleared, else Drain after the stop with FULL clear. That of a
// failed fill stands until it is known to be home, or given up.
func (g *Guard) checkGone(i int) {
	b := &g.benches[i]
	r := &b.run
	bare := r.stopped + b.Drain
	switch {
	case r.homing || b.full.Level == Wet || b.empty.Level == Wet:
	case r.emptyMade:
		r.water, r.goneAt = Gone, max(r.stopped, b.empty.Since)
	case g.now.Mono >= bare && !b.empty.anyWet():
		r.water, r.goneAt = Gone, max(bare, b.full.Since, r.homeAt)
		if b.Empty && r.full {
			g.trip(i, Implausible, true, "EMPTY was not made by a flood that made FULL")
		}
	}
}
