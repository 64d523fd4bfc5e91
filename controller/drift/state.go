package drift

import (
	"math"
	"slices"
	"time"
)

// Flood is the times of one flood whose FULL was made. At is when the pump
// started, in the zone of the bench; Gap is the time since the last flood that
// wetted the pots, 0 when there was none.
type Flood struct {
	At    time.Time
	Fill  time.Duration // pump start to FULL made
	Fall  time.Duration // pump stop to FULL clear; 0 when not known
	Drain time.Duration // pump stop to EMPTY clear; 0 without EMPTY
	Hold  time.Duration
	Gap   time.Duration
}

// State is what is known of one bench's times after some floods. The zero State
// knows nothing and begins a baseline. It is a value: Next leaves it alone.
type State struct {
	Fill, Fall, Drain track
	Named             Cause // what was told last and still stands
	Pressing          bool  // and that it cannot wait
	Quiet             int   // floods in a row without the change, after it was named
	Near              near  // to the limits, whatever the baseline
}

const (
	compares = 12 // floods of one kind after which the next are compared with them
	learns   = 40 // floods of one kind that make its baseline
	recent   = 8  // floods that say how a time stands now
	lasting  = 5  // floods of which the most have to show it, so that a float that sticks now and then is none
	kept     = 24 // floods that are remembered

	later  = 0.03 // time longer by this much is not worth a chore
	sooner = 0.04 // nor is shorter: it harms less, and plants that drink less look like it

	plain = 0.25 // more than a float that sticks comes late by: two floods are enough
	warn  = 0.15
	act   = 0.40
	inRow = 3 // floods that have to be over warn or act
	beats = 3 // times the scatter: how far beyond chance they have to be

	calm = 6 // floods in a row as before after which a finding no longer stands
)

// kind is what makes floods alike: whether the pots had time to dry. What they
// drink is taken off by estimate alone, and it is those of dry pots that are far
// from it.
type kind uint8

const (
	wet kind = iota
	dry
)

// dries is the time after which pots count as dry.
const dries = 6 * time.Hour

func (f Flood) kind() kind {
	if f.Gap > dries {
		return dry
	}
	return wet
}

// track follows one of the times.
type track struct {
	Bases  []base
	Recent []float64 // the last changes, newest last
	Steps  []float64 // how far the last floods were from those before, as logarithms
	Up     float64   // CUSUM of what is slower
	Down   float64   // CUSUM of what is faster
	Since  int       // floods since both were zero
}

// base is the baseline of floods of one kind: the median of their logarithms,
// less what floods of the other kind had changed by when it turned up.
type base struct {
	Kind   kind
	Learnt []float64
	Last   float64 // flood
	Before float64
	Median float64
}

// Next is the state after one more flood, and what it makes known, if anything.
func Next(s State, b Bench, f Flood) (State, *Finding) {
	filling, falling := b.drunk(f)
	changed := s.Named != ""
	s.Fill = s.Fill.after(f.kind(), f.Fill, math.Log1p(filling), changed)
	s.Fall = s.Fall.after(f.kind(), f.Fall, -math.Log1p(falling), changed)
	s.Drain = s.Drain.after(f.kind(), f.Drain, -math.Log1p(falling), changed)
	s, found := s.judge()
	var edge *Edge
	s.Near, edge = s.Near.after(b.Windows.Edge(f))
	switch {
	case edge == nil:
	case found == nil:
		found = &Finding{Cause: NearLimit, Edge: edge, Pressing: true}
	default:
		found.Edge, found.Pressing = edge, true
	}
	return s, found
}

// after takes one time; correction is the part of its logarithm that the pots
// are expected to make. Once the bench has changed, what it does now is no
// baseline.
func (t track) after(k kind, took time.Duration, correction float64, changed bool) track {
	if took <= 0 {
		return t
	}
	x := math.Log(took.Seconds()) - correction
	t.Bases = slices.Clone(t.Bases)
	i := slices.IndexFunc(t.Bases, func(b base) bool { return b.Kind == k })
	if i < 0 {
		t.Bases, i = append(t.Bases, base{Kind: k, Before: t.change(recent)}), len(t.Bases)
	} else {
		t.Steps = last(steps, t.Steps, math.Abs(x-t.Bases[i].Last))
	}
	b := &t.Bases[i]
	b.Last = x
	known := len(b.Learnt) >= compares
	if !known || !changed {
		b.learn(x)
	}
	if !known {
		return t
	}
	return t.compare(x-b.Median, t.doubt(len(b.Learnt)))
}

// learn takes one flood into the baseline until there are enough.
func (b *base) learn(x float64) {
	if len(b.Learnt) < learns {
		b.Learnt = append(slices.Clone(b.Learnt), x-b.Before)
		b.Median = median(b.Learnt)
	}
}

// compare takes a change against a baseline that may be off by doubt.
func (t track) compare(change, doubt float64) track {
	t.Recent = last(kept, t.Recent, change)
	up, down := bothBounds(t.scatter(), doubt)
	clipped := min(max(change, -down.most), up.most)
	t.Up = min(max(0, t.Up+clipped-up.slack), 2*up.limit)
	t.Down = min(max(0, t.Down-clipped-down.slack), 2*down.limit)
	t.Since++
	if t.Up == 0 && t.Down == 0 {
		t.Since = 0
	}
	return t
}

// last is the newest n of values and one more; values is left alone.
func last(n int, values []float64, next float64) []float64 {
	values = append(slices.Clone(values), next)
	return values[max(0, len(values)-n):]
}

// change over the last n floods, as far as they are remembered: 0.1 is a tenth
// slower.
func (t track) change(n int) float64 {
	if len(t.Recent) == 0 {
		return 0
	}
	return median(t.Recent[max(0, len(t.Recent)-max(n, 2)):])
}

// moved says whether the time has changed for good.
func (t track) moved() bool {
	s := t.scatter()
	up, down := bothBounds(s, 0)
	stands := t.change(lasting)
	if both := t.change(2); math.Abs(both) > math.Log1p(plain) {
		stands = both
	}
	return t.Up > up.limit && stands > later || t.Down > down.limit && -stands > sooner || t.beyond(warn, s)
}

// beyond says whether the last floods were all slower by this much, beyond what
// their scatter may do.
func (t track) beyond(by, scatter float64) bool {
	if len(t.Recent) < inRow {
		return false
	}
	return slices.Min(t.Recent[len(t.Recent)-inRow:]) >= max(math.Log1p(by), beats*scatter)
}

func (t track) back() bool {
	return len(t.Recent) == 0 || math.Abs(t.Recent[len(t.Recent)-1]) < later+t.scatter()
}

func median(values []float64) float64 {
	var room [steps]float64
	sorted := append(room[:0], values...)
	slices.Sort(sorted)
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
