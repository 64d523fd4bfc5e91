package safety

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// linesOf are the lines of a bench's pump and of its enable relay.
func (g *Guard) linesOf(b *bench) (pump, enable string) {
	if b.enable >= 0 {
		enable = g.lim.Outputs[b.enable].Line
	}
	return g.lim.Outputs[b.Pump].Line, enable
}

// indexOf is the index of the bench of a name; -1 when the file has none.
func (g *Guard) indexOf(name string) int {
	for i := range g.benches {
		if g.benches[i].Name == name {
			return i
		}
	}
	return -1
}

// restoreLeft keeps what an earlier program remembered of benches that are not
// in the file: whoever takes a bench out and puts it back finds it as it was.
func (g *Guard) restoreLeft(s State, sh shift) {
	g.left = make(map[string]BenchState)
	for name, was := range s.Benches {
		if g.indexOf(name) < 0 {
			g.left[name] = was.rebased(sh)
		}
	}
	for name, why := range s.Lost {
		if g.indexOf(name) < 0 {
			was := g.left[name]
			was.Latched = append(was.Latched, Trip{Interlock: StateLost, At: g.now.Mono, Latched: true, Detail: why})
			g.left[name], g.dirty = was, true
		}
	}
	g.showLeft()
}

// rebased is s with its times on the present clock.
func (s BenchState) rebased(sh shift) BenchState {
	s.Latched, s.Runs = slices.Clone(s.Latched), slices.Clone(s.Runs)
	for i := range s.Latched {
		s.Latched[i].At = sh.at(s.Latched[i].At)
	}
	for i := range s.Runs {
		s.Runs[i] = Span{Start: sh.at(s.Runs[i].Start), Stop: sh.at(s.Runs[i].Stop)}
	}
	s.Highs, s.Leaks, s.Stales = sh.all(s.Highs), sh.all(s.Leaks), sh.all(s.Stales)
	return s
}

// leftInto adds the benches that left the file to s, and takes out of it those
// that were dropped.
func (g *Guard) leftInto(s *State) {
	maps.Copy(s.Benches, g.left)
	maps.DeleteFunc(s.Benches, func(name string, _ BenchState) bool {
		_, left := g.left[name]
		return !left && g.indexOf(name) < 0
	})
}

func (g *Guard) showLeft() {
	g.shown = nil
	for _, name := range slices.Sorted(maps.Keys(g.left)) {
		g.shown = append(g.shown, LeftBench{Name: name, Latched: g.left[name].Latched})
	}
}

// takeOver latches benches for what is latched under another name on their
// lines: a bench is its pump and its table, whatever the file calls it.
func (g *Guard) takeOver(s State) {
	for _, name := range slices.Sorted(maps.Keys(s.Benches)) {
		if g.indexOf(name) >= 0 {
			g.handOver(name, s.Benches[name], s, false)
		}
	}
	for _, l := range g.shown {
		if len(l.Latched) > 0 {
			g.handOver(l.Name, g.left[l.Name], s, true)
		}
	}
	for name, why := range s.Lost {
		if was := s.Benches[name]; g.indexOf(name) >= 0 && was.Pump == "" {
			g.unknown(name, why, s)
		}
	}
	g.showLeft()
}

// unknown latches every bench that may be one of which nothing is kept, not even
// its pump: those that are on another pump than before, or new. One that left the
// file has handed over already.
func (g *Guard) unknown(name, why string, s State) {
	for i := range g.benches {
		b := &g.benches[i]
		if b.Name != name && g.mayBeAnother(b, s) {
			g.latch(i, StateLost, fmt.Sprintf("%s of %q, and this bench may be on its pump", why, name))
		}
	}
}

// mayBeAnother reports whether s says nothing of the bench under its name and on
// its pump.
func (g *Guard) mayBeAnother(b *bench, s State) bool {
	was, known := s.Benches[b.Name]
	pump, _ := g.linesOf(b)
	return !known || was.Pump != "" && was.Pump != pump
}

// handOver latches every bench that inherits from the bench of a name. A bench
// that left the file with nothing but its name changed gives its latches away.
// One whose lines were changed too may be any bench that nothing is on record
// of, under its name and on its pump: until a person has dropped it each of
// those latches.
func (g *Guard) handOver(name string, was BenchState, s State, left bool) {
	for i := range g.benches {
		b := &g.benches[i]
		pump, enable := g.linesOf(b)
		_, known := s.Benches[b.Name]
		why := ""
		switch {
		case b.Name == name:
		case was.Pump != "" && was.Pump == pump:
			why = fmt.Sprintf("latched while %q had this pump", name)
			b.weld = b.weld || was.Weld
			if left {
				given := was
				given.Latched, given.Weld, given.Resets = nil, false, was.Resets+1
				g.left[name] = given
			}
		case left && was.Weld && was.Enable == enable:
			why = fmt.Sprintf("the welded pump of %q, which left the file, is behind this enable relay", name)
		case !known && was.Enable != "" && was.Enable == enable:
			why = fmt.Sprintf("this bench is new behind the enable relay of %q, which is latched", name)
		case left && g.mayBeAnother(b, s):
			why = fmt.Sprintf("latched on %q, which left the file, and this bench may be it", name)
		}
		if why == "" {
			continue
		}
		for _, t := range was.Latched {
			g.latch(i, t.Interlock, strings.Trim(t.Detail+"; "+why, "; "))
		}
	}
}

// weldLeft names the bench that left the file with a welded pump behind the
// enable relay of b; empty when there is none.
func (g *Guard) weldLeft(b *bench) string {
	_, enable := g.linesOf(b)
	for _, l := range g.shown {
		if was := g.left[l.Name]; was.Weld && was.Enable == enable {
			return l.Name
		}
	}
	return ""
}

// latchLost latches the benches of which nothing reliable is kept.
func (g *Guard) latchLost(lost map[string]string) {
	for i := range g.benches {
		if why, is := lost[g.benches[i].Name]; is {
			g.latch(i, StateLost, why)
		}
	}
}

// Drop forgets a bench that left the file, and what was latched on it; found
// says what became of it.
func (g *Guard) Drop(now Now, name, found string) error {
	g.now = now
	was, left := g.left[name]
	switch {
	case g.indexOf(name) >= 0:
		return fmt.Errorf("drop bench %q: it is in the file; take it out first, or reset it", name)
	case !left:
		return fmt.Errorf("drop bench %q: nothing is kept of a bench of that name", name)
	case strings.TrimSpace(found) == "":
		return fmt.Errorf("drop bench %q: say what became of it", name)
	}
	e := Event{Kind: Dropped, Bench: -1, Left: name, Detail: found}
	if len(was.Latched) > 0 {
		e.Interlock = was.Latched[0].Interlock
	}
	g.emit(e)
	delete(g.left, name)
	g.showLeft()
	g.dirty, g.again = true, true
	return nil
}
