package rehearse

import (
	"flag"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/loop"
	"benchtide/safety"
)

// The search takes guard, controller and loop through everything that can happen
// to a small site in a few beats: what FULL and HIGH may read, and what people,
// power, clock and storage may do. Nothing of it asks what water can do. A
// controller cannot be copied, so each way is walked anew from the start; states
// that look alike after the same number of beats are followed once.

var beats = flag.Int("beats", 2, "how many beats deep the search of controller and guard goes")

// choice is what happens at the beginning of a beat.
type choice struct {
	name string
	do   func(*small)
}

func choices(benches int) (all []choice) {
	add := func(name string, do func(*small)) { all = append(all, choice{name, do}) }
	ask := func(name string, f func(loop.Core) error) { add(name, func(s *small) { _ = s.loop.Act(f) }) }
	for b := range benches {
		levels := []safety.Level{safety.Dry, safety.Wet, safety.Fault}
		for _, full := range levels {
			for _, high := range levels {
				add(fmt.Sprintf("%d reads FULL %v HIGH %v", b, full, high), func(s *small) {
					s.read.Benches[b].Full.Level, s.read.Benches[b].High.Level, s.moved[b] = full, high, s.now.Mono
				})
			}
		}
		ask(fmt.Sprintf("flood %d", b), func(c loop.Core) error { return c.Controller.Flood(c.Now, b, beat) })
		ask(fmt.Sprintf("stop %d", b), func(c loop.Core) error { return c.Controller.StopFlood(c.Now, b) })
		ask(fmt.Sprintf("skip %d", b), func(c loop.Core) error { _, err := c.Controller.SkipNext(c.Now, b); return err })
		ask(fmt.Sprintf("pause %d", b), func(c loop.Core) error { return c.Controller.Pause(c.Now, b, c.Now.Wall.Add(cycle), "a person") })
		ask(fmt.Sprintf("reset %d", b), func(c loop.Core) error { return c.Guard.Reset(c.Now, b, "a leaf") })
	}
	ask("hands in", func(c loop.Core) error { c.Guard.SetHandsIn(c.Now, true); return nil })
	ask("hands out", func(c loop.Core) error { c.Guard.SetHandsIn(c.Now, false); return nil })
	add("crash", func(s *small) { s.restart(s.boots) })
	add("power cut", func(s *small) { s.restart(s.boots + 1) })
	add("clock on", func(s *small) { s.step(cycle) })
	add("clock back", func(s *small) { s.step(-cycle) })
	add("clock lost", func(s *small) { s.now.Trusted = !s.now.Trusted })
	add("storage", func(s *small) { s.ledger.Broken = !s.ledger.Broken })
	return all
}

// walk goes one way from the start.
func walk(t require.TestingT, start func() *small, all []choice, way []uint8) *small {
	s := start()
	for _, n := range way {
		all[n].do(s)
		s.pass(beat)
	}
	return s
}

// search goes all ways, breadth first.
type search struct {
	states, walks, depth int
	broken               string // the first violation and the way to it
}

func explore(t require.TestingT, start func() *small, benches, depth int) (f search) {
	all := choices(benches)
	front := [][]uint8{nil}
	f.states = 1
	for ; f.depth < depth; f.depth++ {
		known := map[uint64]bool{}
		var next [][]uint8
		for _, way := range front {
			for n := range all {
				longer := append(slices.Clone(way), uint8(n))
				s := walk(t, start, all, longer)
				f.walks++
				if s.broken != "" {
					f.broken = s.broken + " after " + names(all, longer)
					return f
				}
				if k := s.key(); !known[k] {
					known[k] = true
					next = append(next, longer)
				}
			}
		}
		front = next
		f.states += len(front)
	}
	return f
}

func names(all []choice, way []uint8) string {
	var words []string
	for _, n := range way {
		words = append(words, all[n].name)
	}
	return strings.Join(words, ", ")
}

func TestNoChoiceOfInputsMakesGuardAndControllerBreakAnInvariant(t *testing.T) {
	for benches := 1; benches <= 2; benches++ {
		setup, deep := closet(t, benches), *beats+1-benches
		f := explore(t, func() *small { return newSmall(t, setup, setup) }, benches, deep)
		violations := 0
		if f.broken != "" {
			violations = 1
		}
		t.Logf("benches %d: states %d, transitions %d, depth %d beats of %v, violations %d", benches, f.states, f.walks, f.depth, beat, violations)
		assert.Empty(t, f.broken)
	}
}

// A search that cannot find anything proves nothing: the program gets a defect
// that the oracle does not know of.
func TestTheSearchOfTheControllerFindsDefects(t *testing.T) {
	honest := closet(t, 1)
	for _, d := range []struct {
		invariant string
		ahead     time.Duration // that pass before the search
		deep      int
		spoil     func(*safety.BenchLimits)
		sieve     bool
	}{
		{"invariant 3", 2 * beat, 3, func(l *safety.BenchLimits) { l.Fill = 4 * beat }, false},
		{"invariant 4", 0, 2, func(l *safety.BenchLimits) { l.High = false }, false},
		{"invariant 1", 0, 2, func(l *safety.BenchLimits) { l.Full = false }, false},
		{"invariant 10", 2 * beat, 3, func(*safety.BenchLimits) {}, true},
	} {
		f := explore(t, func() *small {
			program := honest
			program.Limits.Benches = slices.Clone(honest.Limits.Benches)
			d.spoil(&program.Limits.Benches[0])
			s := newSmall(t, program, honest)
			s.sieve = d.sieve
			s.pass(d.ahead)
			return s
		}, 1, d.deep)
		require.Contains(t, f.broken, d.invariant)
		t.Logf("found among %d states: %s", f.states, f.broken)
	}
}
