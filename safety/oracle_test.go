package safety

import (
	"fmt"
	"time"
)

// oracle is what the invariants need to know of one bench.
type oracle struct {
	on      bool
	since   time.Duration
	off     time.Duration
	ran     bool
	latched []Interlock
}

func (w *world) broke(format string, args ...any) {
	if w.told == "" {
		w.told = fmt.Sprintf(format, args...)
	}
}

func (w *world) hear(e *Event) {
	switch e.Kind {
	case LatchedEvent:
		w.seen[e.Bench].latched = append(w.seen[e.Bench].latched, e.Interlock)
	case ResetEvent:
		w.seen[e.Bench].latched = nil
	}
}

func (w *world) end(i int) {
	o := &w.seen[i]
	if o.on {
		o.on, o.off, o.ran = false, w.now.Mono, true
	}
}

// look holds bench i to the invariants in the turn that has just been taken.
func (w *world) look(i int, cmd Command) {
	o, l, r := &w.seen[i], &w.l.Benches[i], &w.r.Benches[i]
	on := cmd.On(l.Pump) && cmd.On(enableOut)
	switch {
	case on && !o.on:
		w.lookAtStart(i)
		o.on, o.since = true, w.now.Mono
	case !on:
		w.end(i)
	}
	if !on {
		return
	}
	switch ran := w.now.Mono - o.since; {
	case !w.w.Benches[i].Pump:
		w.broke("1: bench %d pumps and nobody wants it", i)
	case ran >= l.Fill*3/2+l.MaxHold:
		w.broke("3: bench %d has pumped for %v", i, ran)
	case r.High.Level != Dry:
		w.broke("4: bench %d pumps with HIGH made", i)
	case r.Full.Level == Fault && w.now.Mono-r.Full.At > StaleAfter:
		w.broke("1: bench %d pumps with FULL unread for %v", i, w.now.Mono-r.Full.At)
	case len(o.latched) > 0:
		w.broke("5: bench %d pumps, latched by %s", i, o.latched[0])
	case w.g.handsIn:
		w.broke("1: bench %d pumps under hands-in", i)
	}
}

func (w *world) lookAtStart(i int) {
	o, l, r := &w.seen[i], &w.l.Benches[i], &w.r.Benches[i]
	if rest := w.now.Mono - o.off; o.ran && rest < l.Drain+2*time.Minute {
		w.broke("10: bench %d starts %v after its last run", i, rest)
	}
	if r.Full.Level != Dry {
		w.broke("1: bench %d starts with FULL %v", i, r.Full.Level)
	}
	for j := range w.seen {
		if j != i && w.seen[j].on {
			w.broke("6: bench %d starts while bench %d pumps", i, j)
		}
		if j != i && len(w.seen[j].latched) == 0 && w.seen[j].ran && w.now.Mono-w.seen[j].off < w.l.Benches[j].Drain {
			w.broke("6: bench %d starts while the water of bench %d comes home", i, j)
		}
	}
}
