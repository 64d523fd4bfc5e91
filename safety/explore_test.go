package safety

import (
	"encoding/binary"
	"flag"
	"fmt"
	"hash/maphash"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var depth = flag.Int("depth", 3, "how many steps the search of the guard goes deep")

// The search explores the guard from its start: every reading of FULL and HIGH,
// wished for or not, and restarts, resets and hands-in besides, minute by minute,
// to a stated depth. States that differ only in times too long ago to matter are
// one. An oracle that knows the invariants and not the guard looks at each turn.

const beat = time.Minute

// small is a site whose times are a few beats.
func small(benches int) Limits {
	l := site(benches)
	l.Stirrers, l.Outputs[stirOut].Kind = nil, Other
	for i := range l.Benches {
		b := &l.Benches[i]
		b.Fill, b.Fall, b.Drain, b.MaxHold = beat, beat, 2*beat, beat
	}
	return l
}

// input is what happens in one beat.
type input struct {
	name       string
	bench      int
	full, high Level
	want       bool
	act        func(*world)
}

// inputs are all there are. Of several benches one moves at a time, the others
// are dry and not wished for, unless they run.
func inputs(benches int) (all []input) {
	levels := []Level{Dry, Wet, Fault}
	for b := range benches {
		for _, want := range []bool{false, true} {
			for _, full := range levels {
				for _, high := range levels {
					all = append(all, input{name: fmt.Sprintf("bench %d: want %v, FULL %v, HIGH %v", b, want, full, high), bench: b, full: full, high: high, want: want})
				}
			}
		}
		all = append(all, input{name: fmt.Sprintf("reset bench %d", b), bench: b, full: Dry, high: Dry, act: func(w *world) { _ = w.g.Reset(w.now, b, "found") }})
	}
	return append(all,
		input{name: "crash", full: Dry, high: Dry, act: func(w *world) { w.restart("boot-1") }},
		input{name: "power cut", full: Dry, high: Dry, act: func(w *world) { w.restart("boot-2") }},
		input{name: "hands-in", full: Dry, high: Dry, act: func(w *world) { w.g.SetHandsIn(w.now, !w.g.byHand) }},
		input{name: "an hour", full: Dry, high: Dry, act: func(w *world) { w.pass(time.Hour) }},
	)
}

// world is a guard, its inputs and what the oracle remembers.
type world struct {
	g    *Guard
	l    Limits // the oracle's
	now  Now
	r    *Readings
	w    *Want
	seen []oracle
	id   int64
	told string // the first invariant that broke
	keep bool   // a restart keeps latched trips
}

func newWorld(guarded, held Limits) *world {
	w := &world{l: held, now: Now{Mono: time.Hour, Wall: noon, Trusted: true}, r: NewReadings(held), w: NewWant(held), seen: make([]oracle, len(held.Benches)), keep: true}
	w.g = New(guarded, State{}, w.now, "boot-1")
	for i := range w.r.Benches {
		w.r.Benches[i].Full.Level, w.r.Benches[i].High.Level = Dry, Dry
	}
	w.pass(12 * beat) // tables count as full until then
	return w
}

// clone is a world that shares nothing that changes.
func (w *world) clone() *world {
	c := *w
	g := *w.g
	c.g = &g
	g.benches, g.tanks, g.relays, g.events = slices.Clone(g.benches), slices.Clone(g.tanks), slices.Clone(g.relays), nil
	for i := range g.benches {
		b := &g.benches[i]
		b.latched, b.highs, b.leaks, b.stales = slices.Clone(b.latched), slices.Clone(b.highs), slices.Clone(b.leaks), slices.Clone(b.stales)
	}
	g.storm.starts, g.storm.storms = slices.Clone(g.storm.starts), slices.Clone(g.storm.storms)
	g.survey()
	g.view.Benches, g.view.Reservoirs = slices.Clone(g.view.Benches), slices.Clone(g.view.Reservoirs)
	r, want := *w.r, *w.w
	r.Benches, r.Reservoirs = slices.Clone(r.Benches), slices.Clone(r.Reservoirs)
	want.Benches, want.Stir, want.Other = slices.Clone(want.Benches), slices.Clone(want.Stir), slices.Clone(want.Other)
	c.r, c.w, c.seen = &r, &want, slices.Clone(w.seen)
	for i := range c.seen {
		c.seen[i].latched = slices.Clone(c.seen[i].latched)
	}
	return &c
}

// step lives through one beat of an input.
func (w *world) step(in *input) {
	b := &w.r.Benches[in.bench]
	b.Full.Level, b.High.Level = in.full, in.high
	if in.act != nil {
		in.act(w)
	}
	want := &w.w.Benches[in.bench]
	if in.want && !want.Pump {
		w.id++
		*want = RunWant{Pump: true, Flood: w.id, Hold: w.l.Benches[in.bench].MaxHold}
	}
	want.Pump = in.want
	w.pass(beat)
}

// pass takes turns wherever the guard asks for one.
func (w *world) pass(d time.Duration) {
	turns := 0
	for end := w.now.Mono + d; w.told == ""; turns++ {
		w.turn()
		if turns > 1000 {
			w.broke("0: the guard never lets time pass")
		}
		next := min(w.g.Next(), end)
		if next == w.now.Mono && next < end {
			continue
		}
		w.now.Wall, w.now.Mono = w.now.Wall.Add(next-w.now.Mono), next
		if next == end {
			return
		}
	}
}

func (w *world) turn() {
	for i := range w.r.Benches {
		for _, r := range []*Reading{&w.r.Benches[i].Full, &w.r.Benches[i].High} {
			if r.Level != Fault {
				r.At = w.now.Mono
			}
		}
	}
	w.g.Observe(w.now, w.r)
	cmd := w.g.Allow(w.now, w.w)
	w.g.Planned(w.g.Next())
	for _, e := range w.g.TakeEvents() {
		w.hear(&e)
	}
	for i := range w.seen {
		w.look(i, cmd)
	}
}

// restart ends the program without notice and starts it again.
func (w *world) restart(boot string) {
	s := w.g.State()
	for name, b := range s.Benches {
		if !w.keep {
			b.Latched = nil
			s.Benches[name] = b
		}
	}
	for i := range w.seen {
		w.end(i)
		w.w.Benches[i].Pump = false
	}
	if boot != w.g.boot {
		w.shift(time.Minute - w.now.Mono)
	}
	w.g = New(w.g.lim, s, w.now, boot)
}

// shift sets the boot-time clock; what the oracle remembers moves along.
func (w *world) shift(by time.Duration) {
	w.now.Mono += by
	for i := range w.seen {
		w.seen[i].off += by
		w.seen[i].since += by
	}
}

var seed = maphash.MakeSeed()

// longAgo is past everything that times are compared with but the budgets of
// starts and of pump time, whose runs are kept to the second.
const longAgo = 20 * beat

// key is the state, its times as ages.
func (w *world) key() uint64 {
	var h maphash.Hash
	h.SetSeed(seed)
	num := func(n int64) {
		var b [8]byte
		binary.LittleEndian.PutUint64(b[:], uint64(n))
		h.Write(b[:])
	}
	bit := func(is bool) {
		if is {
			h.WriteByte(1)
		} else {
			h.WriteByte(0)
		}
	}
	age := func(t time.Duration) { num(int64(min(max(w.now.Mono-t, -longAgo), longAgo))) }
	bit(w.g.handsIn)
	bit(w.g.again)
	for _, t := range w.g.storm.starts {
		num(int64(w.now.Mono - t))
	}
	num(int64(len(w.g.storm.storms)))
	for i := range w.g.benches {
		b, o := &w.g.benches[i], &w.seen[i]
		r := &b.run
		for _, is := range []bool{b.pump, b.weld, b.retried, b.failed, b.watched, r.assumed, r.full, r.stands, r.late, r.held, r.judging, r.homing, r.retry, r.water == Gone, o.on, o.ran, w.w.Benches[i].Pump} {
			bit(is)
		}
		for _, t := range []time.Duration{r.started, r.stopped, r.fullAt, r.standsAt, r.goneAt, r.openedAt, r.homeAt, r.keepAt, r.budgetEnd, b.rest, o.since, o.off} {
			age(t)
		}
		num(int64(r.stood))
		for _, f := range []*filter{&b.full, &b.high} {
			num(int64(f.Level)<<16 | int64(f.raw)<<8 | int64(min(f.count, chatterLimit+1)))
			age(f.Since)
			age(f.rawSince)
			age(f.began)
			bit(f.fault)
		}
		for n := range b.runs.len() {
			num(int64(w.now.Mono - b.runs.back(n).Start))
			num(int64(w.now.Mono - b.runs.back(n).Stop))
		}
		for _, t := range b.latched {
			h.WriteString(string(t.Interlock))
		}
		num(int64(len(b.highs))<<8 | int64(len(b.stales)))
	}
	return h.Sum64()
}

// found is what a search came to.
type found struct {
	states, transitions, depth int
	closed                     bool   // nothing new was left at that depth
	broken                     string // the first violation, with the way to it
}

// explore searches breadth first.
func explore(start *world, benches, depth int) (f found) {
	type node struct {
		*world
		way string
	}
	all := inputs(benches)
	known := map[uint64]bool{start.key(): true}
	front := []node{{start, ""}}
	for f.depth < depth && len(front) > 0 {
		f.depth++
		var next []node
		for _, n := range front {
			for i := range all {
				c := n.clone()
				c.step(&all[i])
				f.transitions++
				if c.told != "" {
					f.states, f.broken = len(known), c.told+" after"+n.way+"; "+all[i].name
					return f
				}
				if k := c.key(); !known[k] {
					known[k] = true
					next = append(next, node{c, n.way + "; " + all[i].name})
				}
			}
		}
		front = next
	}
	f.states, f.closed = len(known), len(front) == 0
	return f
}

func TestEveryReadingOfASmallGuardKeepsTheInvariants(t *testing.T) {
	for _, benches := range []int{1, 2} {
		steps := *depth + 1 - benches
		f := explore(newWorld(small(benches), small(benches)), benches, steps)
		t.Logf("benches %d: states %d, transitions %d, depth %d, closed %v, violations: %q", benches, f.states, f.transitions, f.depth, f.closed, f.broken)
		assert.Empty(t, f.broken)
		assert.Greater(t, f.states, 100)
	}
}

// A search that cannot find anything proves nothing: the guard gets limits of
// its own, spoilt, and the oracle keeps those of the site.
func TestTheSearchFindsDefects(t *testing.T) {
	defects := map[string]struct {
		spoil  func(*Limits)
		forget bool
		deep   int
	}{
		"3: ":  {spoil: func(l *Limits) { l.Benches[0].Fill = 4 * beat }, deep: 4},
		"4: ":  {spoil: func(l *Limits) { l.Benches[0].High = false }, deep: 2},
		"1: ":  {spoil: func(l *Limits) { l.Benches[0].Full = false }, deep: 2},
		"10: ": {spoil: func(l *Limits) { l.Benches[0].Drain = 0 }, deep: 5},
		"5: ":  {spoil: func(*Limits) {}, forget: true, deep: 5},
	}
	for _, name := range slices.Sorted(maps.Keys(defects)) {
		d := defects[name]
		l := small(1)
		d.spoil(&l)
		w := newWorld(l, small(1))
		w.keep = !d.forget
		f := explore(w, 1, d.deep)
		require.NotEmpty(t, f.broken, name)
		assert.Contains(t, f.broken, name)
		t.Logf("%s found at depth %d among %d states: %s", name, f.depth, f.states, f.broken)
	}
}
