package sim

import (
	"math"
	"time"
)

// Steps. The error of one is held to a depth far below what a float can tell;
// TestCoarseAndFineStepsAgree shows what that comes to.
const (
	firstStride   = time.Second
	longestStride = 5 * time.Minute
	restStride    = time.Hour
	crossing      = 500 * time.Microsecond // how closely a switch's change is found
	depthError    = 1e-5                   // m
)

// links are the flows of one table in L/s; each moves water from one place to
// one other, so that what leaves here arrives there.
type links [nLinks]float64

const (
	up    = iota // reservoir to table
	lost         // reservoir to floor, hose off
	over         // table over the crest to reservoir
	back         // table by its drain or through the idle pump to reservoir
	leak         // table to floor
	rim          // table over its edge to floor
	gap          // table to floor through the fitting that a hose came off
	drink        // table to pots
	nLinks
)

func (l *links) table() float64 {
	return l[up] - l[over] - l[back] - l[leak] - l[rim] - l[gap] - l[drink]
}

func (l *links) reservoir() float64 { return l[over] + l[back] - l[up] - l[lost] }

func (l *links) floor() float64 { return l[leak] + l[rim] + l[gap] }

// step advances by one step of its own choice, at most to until, and says
// whether a raw reading or a fault changed at its end.
func (w *World) step(until time.Duration) bool {
	until = min(until, w.nextEdge)
	if w.At < until {
		w.move(until - w.At)
	}
	if w.At >= w.nextEdge {
		w.passEdges()
		return true
	}
	return w.changed
}

// move takes one step of at most longest.
func (w *World) move(longest time.Duration) {
	w.begun = false
	if len(w.active) == 0 {
		longest = min(longest, restStride)
		w.try(longest)
	} else {
		longest = w.settle(min(longest, w.Stride))
	}
	if past := w.past(); past >= 0 {
		longest = w.narrow(longest, past)
	}
	w.commit(longest)
}

// settle shrinks a step until its error is small, leaves it tried, and proposes
// the next one.
func (w *World) settle(dt time.Duration) time.Duration {
	for {
		miss := w.try(dt) / depthError
		if miss <= 1 || dt <= time.Millisecond {
			grow := min(4, 0.9/math.Cbrt(max(miss, 1e-9)))
			w.Stride = min(longestStride, max(time.Millisecond, time.Duration(float64(dt)*max(grow, 0.3))))
			return dt
		}
		dt = max(time.Millisecond, time.Duration(float64(dt)*max(0.2, 0.9/math.Cbrt(miss))))
	}
}

// narrow finds the first moment within dt at which something changes, to within
// crossing, and leaves the step to it tried. It aims by the straight line between
// what is short of the change and what is past it, a little beside, so that both
// ends close in; every third time it halves.
func (w *World) narrow(dt time.Duration, past float64) time.Duration {
	low, high := time.Duration(0), dt
	short, side := w.short(), crossing/2
	for n := 1; high-low > crossing; n++ {
		mid := (low + high) / 2
		if n%3 != 0 {
			aim := low + time.Duration(float64(high-low)*short/(short-past)) + side
			mid = min(max(aim, low+crossing/2), high-crossing/2)
		}
		w.try(mid)
		if p := w.past(); p >= 0 {
			high, past, side = mid, p, -crossing/2
		} else {
			low, short, side = mid, p, crossing/2
		}
	}
	w.try(high)
	return high
}

// short is past without a step.
func (w *World) short() float64 {
	for _, i := range w.active {
		w.benches[i].next, w.benches[i].floored = w.Benches[i].Litres, 0
	}
	for i := range w.reservoirs {
		w.reservoirs[i].next, w.reservoirs[i].floored = w.Reservoirs[i].Litres, 0
	}
	return w.past()
}

// try works out a step of dt without taking it and gives its error as a depth.
// The rule is Bogacki–Shampine 3(2), Appl. Math. Letters 2:321, 1989
// (coefficients from memory): all its weights are positive, so no link ever runs
// backwards.
func (w *World) try(dt time.Duration) float64 {
	s := dt.Seconds()
	w.sip(s)
	for i := range w.reservoirs {
		w.losses(i, s)
	}
	w.begin()
	w.stage(1, s/2, 0, 0)
	w.stage(2, 0, 3*s/4, 0)
	w.stage(3, 2*s/9, s/3, 4*s/9)
	var worst float64
	for _, i := range w.active {
		b := &w.benches[i]
		b.next, b.floored = b.volume, s*(b.mean(leak)+b.mean(rim)+b.mean(gap)+b.mean(lost))
		miss := -5.0/72*b.net[0] + 1.0/12*b.net[1] + 1.0/9*b.net[2] - 1.0/8*b.net[3]
		worst = max(worst, math.Abs(miss)*s/1000/b.basin.knots[0].area)
	}
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		r.next = r.volume
		miss := -5.0/72*r.rates[0] + 1.0/12*r.rates[1] + 1.0/9*r.rates[2] - 1.0/8*r.rates[3]
		worst = max(worst, math.Abs(miss)*s/1000/float64(r.Area))
	}
	return worst
}

// mean is what a link of the table moves in the step, L/s.
func (b *bench) mean(n int) float64 {
	return 2.0/9*b.rates[0][n] + 1.0/3*b.rates[1][n] + 4.0/9*b.rates[2][n]
}

// begin works out the rates where every step of a move begins: how long one is
// changes nothing there but what the pots drink and the reservoirs lose.
func (w *World) begin() {
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		r.volume = w.Reservoirs[i].Litres
		r.rates[0] = -r.leaking - r.drying
	}
	for _, i := range w.active {
		t := &w.benches[i]
		r := &w.reservoirs[t.Reservoir]
		if w.begun {
			t.rates[0][drink] = t.drinking
		} else {
			t.flow(r, w.Benches[i].Litres, r.volume, &t.rates[0])
		}
		t.net[0] = t.rates[0].table()
		r.rates[0] += t.rates[0].reservoir()
	}
	w.begun = true
}

// stage sets the volumes at a·k₁ + b·k₂ + c·k₃ and works out the rates there.
func (w *World) stage(n int, a, b, c float64) {
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		r.volume = w.Reservoirs[i].Litres + a*r.rates[0] + b*r.rates[1] + c*r.rates[2]
		r.rates[n] = -r.leaking - r.drying
	}
	for _, i := range w.active {
		t := &w.benches[i]
		t.volume = w.Benches[i].Litres + a*t.net[0] + b*t.net[1] + c*t.net[2]
		r := &w.reservoirs[t.Reservoir]
		t.flow(r, t.volume, r.volume, &t.rates[n])
		t.net[n] = t.rates[n].table()
		r.rates[n] += t.rates[n].reservoir()
	}
}

// past is how far the tried step ends beyond the first change that it meets: of
// a float, a wet pad, or a table that has run bare. It is below 0 before any, and
// in metres or litres, whatever the change is told by.
func (w *World) past() float64 {
	most := math.Inf(-1)
	for _, i := range w.active {
		b := &w.benches[i]
		if w.Benches[i].Litres > 0 {
			most = max(most, -b.next)
		}
		most = max(most, w.floatsPast(i, b.next))
	}
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		if r.Low.Fitted {
			most = max(most, past(w.Reservoirs[i].Low, r.next, float64(r.LowAt), r.lowBand))
		}
		if r.Level.Fitted {
			most = max(most, past(w.Reservoirs[i].Level, r.next, float64(r.LevelAt), r.levelBand))
		}
	}
	return max(most, w.padsPast())
}

// commit takes the tried step of dt.
func (w *World) commit(dt time.Duration) {
	s := dt.Seconds()
	for _, i := range w.active {
		w.pour(i, s)
	}
	for i := range w.reservoirs {
		w.lose(i, s)
	}
	from := w.At
	w.At += dt
	w.runOn(dt)
	w.live(from, dt)
	w.topUps()
	w.floats()
}

// runOn counts the running of pumps, and their running dry.
func (w *World) runOn(dt time.Duration) {
	for i := range w.outputs {
		if !w.Outputs[i].Circuit {
			continue
		}
		o := &w.Outputs[i]
		o.Run += dt
		if r, ok := w.draws(i); ok && w.Reservoirs[r].Litres < w.reservoirs[r].intake {
			o.Dry += dt
		}
	}
}

// floats moves the floats to the water and, when one changed or a table ran
// bare, the contacts that hang on them.
func (w *World) floats() {
	switched := false
	for _, i := range w.active {
		s := &w.Benches[i]
		switched = w.float(i) || s.Litres == 0 && !s.Pumping || switched
	}
	for i := range w.reservoirs {
		r, s := &w.reservoirs[i], &w.Reservoirs[i]
		s.Min = min(s.Min, s.Litres)
		if r.Low.Fitted && past(s.Low, s.Litres, float64(r.LowAt), r.lowBand) >= 0 {
			s.Low, switched = !s.Low, true
		}
		if r.Level.Fitted && past(s.Level, s.Litres, float64(r.LevelAt), r.levelBand) >= 0 {
			s.Level, switched = !s.Level, true
		}
	}
	for i := range w.benches {
		s := &w.Benches[i]
		if wet := s.Floor >= padLitres; wet != s.Made[leakPad] {
			s.Made[leakPad], switched = wet, true
		}
	}
	if switched {
		w.switchOver()
	}
}
