package drift

import (
	"fmt"
	"math"
	"strings"
)

// Cause is what most likely lies behind a change of the times.
type Cause string

// The causes.
const (
	PumpWeak    Cause = "the pump brings less"
	PumpStrong  Cause = "the pump brings more"
	DrainBlocks Cause = "the drain is blocking"
	PotsAdded   Cause = "there are more pots on the table"
	PotsRemoved Cause = "there are fewer pots on the table"
	FloatRaised Cause = "the FULL float sits higher"
	FloatLower  Cause = "the FULL float sits lower"
	TableLeaks  Cause = "the table leaks"
)

// Finding is a change that a person should know of. Changes are logarithms of
// new over old: 0.1 is a tenth slower.
type Finding struct {
	Cause             Cause
	Fill, Fall, Drain float64
	HasDrain          bool
	Sure              string // high, medium or low: how far the times alone can tell
	Pressing          bool   // beyond 40 %: it cannot wait
	Chore             string
	Edge              *Edge // a time that came near its limit; all that NearLimit tells
}

// cause says what a change of fill and fall looks like, how far the times alone
// can tell, and what to do.
type cause struct {
	Cause
	fill, fall float64 // its direction
	sure       string
	chore      string
}

// causes are the directions in which fill and fall move together. Less flow
// also stands less high over the crest, so the fall is a little shorter. Pots
// change fill and fall alike. A float that moves makes one longer and the other
// shorter; a leak and a drain that was cleaned do nearly the same as one that
// sits higher, and only the drain time can tell them apart.
var causes = []cause{
	{PumpWeak, 1, -0.2, "medium", "clean the intake screen this week, and look for a kinked hose; if the reservoir ran low or pots were taken away, set a new baseline instead"},
	{PumpStrong, -1, 0.2, "medium", "set a new baseline if the screen was cleaned or the pump changed; else see that the table is bare before a flood"},
	{DrainBlocks, 0, 1, "high", "clear the drain and the mouth of the standpipe of leaves and roots this week, before water stands higher"},
	{PotsAdded, -1, -1, "medium", "set a new baseline if pots were added; else look for what takes up room on the table"},
	{PotsRemoved, 1, 1, "medium", "set a new baseline if pots were taken away; else look at intake screen and drain, since both are slower"},
	{FloatLower, -0.6, 0.8, "medium", "look at the height of the FULL float against its mark, and at what leans on it"},
	{TableLeaks, 0.2, -1, "low", "look for drips under the table this week, and at the height of the FULL float; if the drain was cleaned, set a new baseline instead"},
}

// What an EMPTY switch adds: a float that moved leaves the drain time alone.
var raised = cause{FloatRaised, 0.4, -0.9, "medium", "look at the height of the FULL float against its mark; the drain takes as long as before, so it is no leak"}

// judge says whether there is something new to tell.
func (s State) judge() (State, *Finding) {
	if !s.Fill.moved() && !s.Fall.moved() {
		return s.settle(), nil
	}
	pressing := s.Fill.beyond(act, s.Fill.scatter()) || s.Fall.beyond(act, s.Fall.scatter())
	if s.Named != "" && (s.Pressing || !pressing) {
		return s.settle(), nil
	}
	now := s.since()
	c := now.likely()
	s.Named, s.Pressing, s.Quiet = c.Cause, pressing, 0
	now.Cause, now.Sure, now.Chore, now.Pressing = c.Cause, c.sure, c.chore, pressing
	return s, &now
}

// since measures the changes over the floods since they began, so that a fast
// one is not watered down by those before.
func (s State) since() Finding {
	n := s.Fill.Since
	if s.Fall.moved() && (!s.Fill.moved() || s.Fall.Since < n) {
		n = s.Fall.Since
	}
	return Finding{Fill: s.Fill.change(n), Fall: s.Fall.change(n), Drain: s.Drain.change(n), HasDrain: len(s.Drain.Recent) > 0}
}

// settle forgets a finding once the times are back where they were.
func (s State) settle() State {
	switch {
	case s.Named == "":
		return s
	case !s.Fill.back() || !s.Fall.back():
		s.Quiet = 0
		return s
	}
	if s.Quiet++; s.Quiet < calm {
		return s
	}
	s.Named, s.Pressing, s.Quiet = "", false, 0
	s.Fill.Up, s.Fill.Down, s.Fall.Up, s.Fall.Down = 0, 0, 0, 0
	return s
}

// likely is the cause whose direction is nearest.
func (f Finding) likely() cause {
	best, nearest := causes[0], -2.0
	for _, c := range causes {
		if cos := (c.fill*f.Fill + c.fall*f.Fall) / math.Hypot(c.fill, c.fall) / math.Hypot(f.Fill, f.Fall); cos > nearest {
			best, nearest = c, cos
		}
	}
	if best.Cause == TableLeaks && f.HasDrain && f.Drain > f.Fall/3 {
		return raised
	}
	return best
}

// String says it in one message: what changed, why probably, what to do.
func (f Finding) String() string {
	if f.Cause == NearLimit {
		return f.Edge.String()
	}
	var parts []string
	for _, p := range []struct {
		what string
		by   float64
		has  bool
	}{{"fills", f.Fill, true}, {"falls", f.Fall, true}, {"drains", f.Drain, f.HasDrain}} {
		if p.has {
			parts = append(parts, p.what+" "+pace(p.by))
		}
	}
	text := "the table " + strings.Join(parts, ", ") + ". Likely: " + string(f.Cause) + " (confidence " + f.Sure + "). Chore: " + f.Chore + "."
	if f.Pressing {
		text += " It cannot wait: the next floods may fail."
	}
	if f.Edge != nil {
		text += " Besides, " + f.Edge.String()
	}
	return text
}

func pace(by float64) string {
	share := 100 * math.Abs(math.Expm1(by))
	switch {
	case share < 2.5:
		return "as before"
	case by > 0:
		return fmt.Sprintf("%.0f %% slower", share)
	}
	return fmt.Sprintf("%.0f %% faster", share)
}
