package safety

import (
	"fmt"
	"strings"
)

// trip ends the run of bench i, if one is on, and tells of it; latched also
// keeps the bench off until a person resets it. With the pump off, an interlock
// that holds the bench already has nothing new to tell: a loose wire may make
// it act every few seconds for days.
func (g *Guard) trip(i int, why Interlock, latched bool, detail string) {
	b := &g.benches[i]
	if b.proof || !b.pump && b.holds(why) {
		return
	}
	g.emit(Event{Kind: Tripped, Bench: i, Interlock: why, Latched: latched, Detail: detail})
	if b.pump {
		g.stop(i)
		b.run.trip = Trip{Interlock: why, At: g.now.Mono, Detail: detail}
		b.run.held = b.run.held && !opensEnable(why)
	}
	if latched {
		g.latch(i, why, detail)
	}
}

// latch keeps bench i off until a person resets it. The first cause stays
// first, and each interlock is kept once.
func (g *Guard) latch(i int, why Interlock, detail string) {
	b := &g.benches[i]
	if b.holds(why) {
		return
	}
	b.latched = append(b.latched, Trip{Interlock: why, At: g.now.Mono, Latched: true, Detail: detail})
	if b.run.trip.Interlock == why {
		b.run.trip.Latched = true
	}
	b.run.homing = false
	g.dirty = true
	g.emit(Event{Kind: LatchedEvent, Bench: i, Interlock: why, Latched: true, Detail: detail})
}

// holds reports whether the bench is latched by an interlock.
func (b *bench) holds(why Interlock) bool {
	for _, t := range b.latched {
		if t.Interlock == why {
			return true
		}
	}
	return false
}

// Reset releases the latched trips of a bench. It is refused while a cause
// stands; found says what the person found. Budgets are kept, and the next
// flood is to be watched.
func (g *Guard) Reset(now Now, bench int, found string) error {
	g.now = now
	b, err := g.bench(bench)
	if err != nil {
		return fmt.Errorf("reset: %w", err)
	}
	switch cause := g.cause(b); {
	case len(b.latched) == 0:
		return fmt.Errorf("reset bench %q: nothing is latched", b.Name)
	case strings.TrimSpace(found) == "":
		return fmt.Errorf("reset bench %q: say what was found", b.Name)
	case cause != "":
		return fmt.Errorf("reset bench %q: %s", b.Name, cause)
	}
	g.emit(Event{Kind: ResetEvent, Bench: bench, Interlock: b.latched[0].Interlock, Detail: found})
	b.latched, b.weld, b.watched = nil, false, true
	b.resets++
	b.run.judging = false
	for _, p := range b.sensors() {
		p.count = 0
	}
	g.tanks[b.Reservoir].low.count = 0
	g.survey()
	g.dirty, g.again = true, true
	return nil
}

// cause names what still stands in the way of a reset, and what to do.
func (g *Guard) cause(b *bench) string {
	p, bad := b.unread(unread)
	w, gone := g.relay(b.enable).welded, g.weldLeft(b)
	switch {
	case gone != "":
		return fmt.Sprintf("the pump of %q, which left the file, is welded; have its relay replaced, then drop %q first", gone, gone)
	case w != nil && w != b:
		return fmt.Sprintf("%s, then reset bench %q first", w.text.weld, w.Name)
	case bad:
		return fmt.Sprintf("switch %q cannot be read; mend its wire", p.name)
	case b.high.anyWet():
		return "HIGH still shows water; drain the table or mend the switch and its wire"
	case b.full.anyWet():
		return "FULL still shows water; drain the table or free the switch"
	case b.empty.anyWet():
		return "EMPTY still shows water; drain the table or free the switch"
	case b.leak.anyWet():
		return "the floor is still wet; dry the floor sensor"
	}
	return ""
}

// FloodEnded takes the controller's verdict on a flood. A proven one clears
// the counts of retries and failed fills, and the watch after a reset.
func (g *Guard) FloodEnded(bench int, proven bool) {
	b, err := g.bench(bench)
	if err != nil || !proven {
		return
	}
	b.retried, b.failed, b.watched = false, false, false
	g.dirty = true
}
