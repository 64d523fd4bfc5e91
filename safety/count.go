package safety

import (
	"fmt"
	"time"
)

// The litres of a run are counted, because nothing else tells that a hose leaks
// while FULL is made all the same. A made low switch proves its litres, so the
// count begins anew at the moment at which it falls; before that, or without
// one, it runs from the start of the pump. While the table fills all that is
// pumped is gone from the reservoir. Once the water stands at the crest it runs
// back as fast as it comes, but for what leaks: that share shows in how much
// longer than usual the fill took.

const (
	// scatter is how much longer than the learnt fill a fill may take by itself:
	// of floods of one bench nine in ten lie within it (judgement, no source).
	scatter = 1.03
	// The learnt fill goes down by a fifth of what a fill was shorter, and up by
	// no more than a hundredth of T_fill at a time, so that a weakening pump is
	// learnt and a leak that came overnight is not (judgement, no source).
	unlearnt = 5
	steepest = 100
	// It stays between these hundredths of T_fill (judgement, no source).
	leastLearnt = 75
	mostLearnt  = 115
)

// counted is when the water counted of the run reach what its reservoir keeps;
// Never when they will not.
func (g *Guard) counted(b *bench) time.Duration {
	r, tank := &b.run, &g.tanks[b.Reservoir]
	switch {
	case r.lowFell && tank.low.Level == Dry:
		return b.countedFrom(tank, max(tank.low.Since, r.started))
	case r.full:
		return Never
	}
	return r.keepAt
}

// keepAt is when a run that starts now will have drawn the reservoir down to
// what it keeps, by the sheet's flow. A made low switch proves its litres
// whatever stands on other tables; else the reservoir is taken to be usable
// less what they hold. Once the overflow returns the count stands.
func (g *Guard) keepAt(i int) time.Duration {
	b := &g.benches[i]
	tank := &g.tanks[b.Reservoir]
	from := tank.LowAt
	if !tank.Low {
		from = tank.Usable - tank.givenUp
	}
	lasts := float64(from-tank.Keep) / float64(b.Flow)
	if b.Flow <= 0 || lasts > day.Seconds() || !b.Full && lasts > b.Fill.Seconds() {
		return Never
	}
	return g.now.Mono + time.Duration(lasts*float64(time.Second))
}

// countedFrom is counted where the low switch fell at a time. Without a flow that
// is no time of the run.
func (b *bench) countedFrom(tank *reservoir, fell time.Duration) time.Duration {
	litres := float64(tank.LowAt - tank.Keep)
	empty, crest := fell+spanOf(litres/float64(b.Flow)), b.crestAt()
	if !b.run.full || empty <= crest {
		return empty
	}
	litres -= float64(b.Flow)*max(0, crest-fell).Seconds() + float64(b.overCrest())
	leaks := float64(b.Flow) * max(0, 1-scatter*float64(b.learntFill(true))/float64(b.run.fullAt-b.run.started))
	return max(crest, fell) + spanOf(max(0, litres)/leaks)
}

// overCrest is what a flood takes beyond the litres to the crest, at the most:
// what stands above it and what the pots drink.
func (b *bench) overCrest() Litres {
	if b.ToCrest <= 0 {
		return 0
	}
	return max(0, b.Flood-b.ToCrest)
}

// crestAt is when the table stood full to its crest in a run that made FULL.
func (b *bench) crestAt() time.Duration {
	filled := b.run.fullAt - b.run.started
	if b.ToFull <= 0 {
		return b.run.fullAt
	}
	return b.run.started + time.Duration(float64(filled)*max(1, float64(b.ToCrest/b.ToFull)))
}

// spanOf is so many seconds, at most a day, which no run lasts.
func spanOf(seconds float64) time.Duration {
	if !(seconds < day.Seconds()) {
		return day
	}
	return time.Duration(max(0, seconds) * float64(time.Second))
}

// learntFill is how long a fill takes as the latest floods show, apart
// for those in which the low switch fell: the lower reservoir is the longer lift.
func (b *bench) learntFill(fell bool) time.Duration {
	for _, low := range [...]bool{fell, !fell} {
		if t := b.learnt[index(low)]; t > 0 {
			return t
		}
	}
	return b.Fill
}

// learn takes the fill of a run that ended as wanted, or counted out.
func (b *bench) learn() {
	if !b.run.full {
		return
	}
	old := b.learntFill(b.run.lowFell)
	by := b.run.fullAt - b.run.started - old
	by = min(max(by, by/unlearnt), b.Fill/steepest)
	b.learnt[index(b.run.lowFell)] = b.within(old + by)
}

// within holds a learnt fill to its bounds.
func (b *bench) within(fill time.Duration) time.Duration {
	return min(max(fill, b.Fill*leastLearnt/100), b.Fill*mostLearnt/100)
}

func index(fell bool) int {
	if fell {
		return 1
	}
	return 0
}

// BeforeFull ends the detail of a count that ran out before FULL was made: the reservoir
// was short, or the fill was slow.
const BeforeFull = " before the table was full"

// checkCount ends a run that has drawn its reservoir down to what it keeps.
func (g *Guard) checkCount(i int) {
	b := &g.benches[i]
	at := g.counted(b)
	if g.now.Mono < at || !b.run.full && b.full.reached(Wet, at) {
		return
	}
	tank := &g.tanks[b.Reservoir]
	detail := fmt.Sprintf("the water counted reached what reservoir %q keeps", tank.Name) + BeforeFull
	switch {
	case b.run.full:
		b.learn()
		detail = fmt.Sprintf("the fill took %s where %s is usual, so water may be leaking, and by the water counted since the low switch fell reservoir %q is down to what it keeps",
			Spell(b.run.fullAt-b.run.started), Spell(b.learntFill(true)), tank.Name)
	case b.Full && !tank.Low:
		g.failFill(i, ReservoirLow, detail)
		return
	case !b.Full:
		detail = fmt.Sprintf("the water counted reached what reservoir %q keeps, and no FULL switch shows that they come back", tank.Name)
	}
	g.trip(i, ReservoirLow, false, detail)
}
