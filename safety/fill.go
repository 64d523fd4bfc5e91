package safety

import (
	"fmt"
	"time"
)

// LostFor is how long FULL may be lost during the hold.
const LostFor = 10 * time.Second

// checkRun runs the interlocks of a running bench.
func (g *Guard) checkRun(i int) {
	b := &g.benches[i]
	if !b.pump {
		return
	}
	if p, bad := b.unread(func(f *filter) bool { return f.stale }); bad {
		b.stales = recent(b.stales, g.now.Mono, day)
		g.trip(i, Stale, len(b.stales) > 1, fmt.Sprintf("switch %q was last read %s ago", p.name, Spell(g.now.Mono-p.at)))
		return
	}
	if g.checkCount(i); !b.pump {
		return
	}
	if b.Full {
		g.checkFill(i)
	}
}

// unread returns the first fitted switch of which bad is true.
func (b *bench) unread(bad func(*filter) bool) (sensor, bool) {
	for _, p := range b.sensors() {
		if p.fitted && bad(p.filter) {
			return p, true
		}
	}
	return sensor{}, false
}

// fillBy is when FULL has to be made at the latest.
func (b *bench) fillBy() time.Duration {
	_, by := b.FillWindow()
	return b.run.started + by
}

// checkFill holds FULL to its window, and to standing once it is made.
func (g *Guard) checkFill(i int) {
	b := &g.benches[i]
	r := &b.run
	now := g.now.Mono
	from, by := b.FillWindow()
	switch {
	case r.full && r.fullAt < r.started+from:
		g.failFill(i, FillWindow, fmt.Sprintf("FULL was made after %s, too early for a fill of %s", Spell(r.fullAt-r.started), Spell(b.Fill)))
	case !r.full && now >= b.fillBy() && !b.full.reached(Wet, b.fillBy()):
		g.failFill(i, FillWindow, fmt.Sprintf("FULL was not made within %s", Spell(by)))
	case r.full && b.full.Level == Dry && now >= b.full.Since+LostFor:
		g.failFill(i, FillWindow, fmt.Sprintf("FULL was lost for %s during the hold", Spell(now-b.full.Since)))
	}
}

// failFill ends a run that did not fill the table as it should. It latches as
// fill-window, unless the one retry is left and a switch may tell that the
// water came home.
func (g *Guard) failFill(i int, why Interlock, detail string) {
	b := &g.benches[i]
	b.run.homing = b.run.attempt == 0 && !b.retried && (b.Empty || b.run.lowFell)
	latched := !b.run.homing && g.failedAgain(b)
	g.trip(i, why, latched && why == FillWindow, detail)
	if latched {
		g.latch(i, FillWindow, detail)
	}
}

// failedAgain notes a slot whose fill failed for good, and reports whether it
// latches: at once, or at the second in a row where the floor takes a spill.
func (g *Guard) failedAgain(b *bench) bool {
	again := b.failed || !g.lim.FloorDrained
	b.failed = true
	g.dirty = true
	return again
}

// homeBy is when the water of a failed fill has to be home.
func (b *bench) homeBy() time.Duration { return b.run.stopped + half3(b.Drain) }

// checkHome allows a retry once the water of a failed fill is known to have
// come home, or gives it up. A reservoir that fell and did not recover has lost
// its water, which no slow fill does: that latches whatever the floor can take.
func (g *Guard) checkHome(i int) {
	b := &g.benches[i]
	r := &b.run
	low := &g.tanks[b.Reservoir].low
	switch {
	case !r.homing:
	case b.cameHome(low):
		r.homing, r.homeAt, r.retry, b.retried = false, g.now.Mono, true, true
		g.dirty = true
		g.emit(Event{Kind: RetryAllowed, Bench: i, Interlock: FillWindow, Detail: "the water came home"})
	case g.now.Mono >= b.homeBy() && !b.comesHome(low):
		r.homing, r.homeAt = false, g.now.Mono
		g.dirty = true
		if again := g.failedAgain(b); again || r.lowFell {
			g.latch(i, FillWindow, fmt.Sprintf("the water of a failed fill did not come home within %s", Spell(half3(b.Drain))))
		}
	}
}

// cameHome reports whether EMPTY was made and cleared, or the reservoir fell
// and recovered.
func (b *bench) cameHome(low *filter) bool {
	return b.run.emptyMade && b.empty.Level == Dry || b.run.lowFell && low.Level == Wet
}

// comesHome reports whether a switch began to say so in time.
func (b *bench) comesHome(low *filter) bool {
	return b.run.emptyMade && b.empty.reached(Dry, b.homeBy()) || b.run.lowFell && low.reached(Wet, b.homeBy())
}
