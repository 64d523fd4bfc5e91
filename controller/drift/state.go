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
}

const (
	learns = 12 // floods of one kind that make its baseline
	recent = 8  // floods that are remembered

	later  = 0.03 // time longer by this much is not worth a chore
	sooner = 0.04 // nor is shorter: it harms less, and plants that drink less look like it
	wide   = 1.5  // times the spread of the baseline that the slack is at least
	limit  = 5    // times the slack: the sum at which a change is a finding
	most   = 4    // times the slack: what one flood adds at most, before the slack is taken off

	warn  = 0.15
	act   = 0.40
	inRow = 3 // floods that have to be over warn or act

	calm = 6 // floods in a row within the slack after which a finding no longer stands
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
	Up     float64   // CUSUM of what is slower
	Down   float64   // CUSUM of what is faster
	Since  int       // floods since both were zero
	Wide   float64   // spread of the widest baseline so far
}

// base is the baseline of floods of one kind: their logarithms while it is
// learnt, then the median.
type base struct {
	Kind    kind
	Learnt  []float64
	Median  float64
	Settled bool
}

// Next is the state after one more flood, and what it makes known, if anything.
func Next(s State, b Bench, f Flood) (State, *Finding) {
	filling, falling := b.drunk(f)
	s.Fill = s.Fill.after(f.kind(), f.Fill, math.Log1p(filling))
	s.Fall = s.Fall.after(f.kind(), f.Fall, -math.Log1p(falling))
	s.Drain = s.Drain.after(f.kind(), f.Drain, -math.Log1p(falling))
	return s.judge()
}

// after takes one time; correction is the part of its logarithm that the pots
// are expected to make.
func (t track) after(k kind, took time.Duration, correction float64) track {
	if took <= 0 {
		return t
	}
	x := math.Log(took.Seconds()) - correction
	i := slices.IndexFunc(t.Bases, func(b base) bool { return b.Kind == k })
	if i < 0 {
		t.Bases, i = append(slices.Clone(t.Bases), base{Kind: k}), len(t.Bases)
	}
	if !t.Bases[i].Settled {
		return t.learn(i, x)
	}
	return t.compare(x - t.Bases[i].Median)
}

// learn takes what the others have changed by off the new baseline.
func (t track) learn(i int, x float64) track {
	t.Bases = slices.Clone(t.Bases)
	b := &t.Bases[i]
	b.Learnt = append(slices.Clone(b.Learnt), x-t.change(recent))
	if len(b.Learnt) == learns {
		b.Median, b.Settled = median(b.Learnt), true
		t.Wide = max(t.Wide, spread(b.Learnt))
		b.Learnt = nil
	}
	return t
}

func (t track) compare(change float64) track {
	t.Recent = append(slices.Clone(t.Recent), change)
	if len(t.Recent) > recent {
		t.Recent = t.Recent[1:]
	}
	up, down := t.slack(later), t.slack(sooner)
	clipped := min(max(change, -most*down), most*up)
	t.Up = min(max(0, t.Up+clipped-up), 2*limit*up)
	t.Down = min(max(0, t.Down-clipped-down), 2*limit*down)
	t.Since++
	if t.Up == 0 && t.Down == 0 {
		t.Since = 0
	}
	return t
}

func (t track) slack(least float64) float64 { return max(least, wide*t.Wide) }

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
	return t.Up > limit*t.slack(later) || t.Down > limit*t.slack(sooner) || t.beyond(warn)
}

// beyond says whether the last floods were all slower by this much.
func (t track) beyond(by float64) bool {
	if len(t.Recent) < inRow {
		return false
	}
	return slices.Min(t.Recent[len(t.Recent)-inRow:]) >= math.Log1p(by)
}

func (t track) back() bool {
	return len(t.Recent) == 0 || math.Abs(t.Recent[len(t.Recent)-1]) < t.slack(later)
}

func median(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// spread is the standard deviation that goes with the median absolute
// deviation of a normal distribution.
func spread(values []float64) float64 {
	m := median(values)
	var off []float64
	for _, v := range values {
		off = append(off, math.Abs(v-m))
	}
	return 1.4826 * median(off)
}
