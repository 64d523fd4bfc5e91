package config

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// bounds are what a number of the file can be: as a rule from low to high, and
// never below least or above most. All are in the base unit of the quantity.
// The figures are those of benches that a person can build, fill and reach
// across (common practice, no source), wide enough for a window sill and for a
// nursery.
type bounds struct {
	what                   string // "the height of a rim"
	least, low, high, most float64
	say, about             func(quantity.Units, float64) string // a number, and an end of what is usual
	slips                  []float64                            // by how many times such a number is mistyped
}

func lengths(what string, least, low, high, most quantity.Metres) bounds {
	say := func(u quantity.Units, v float64) string { return u.Size(quantity.Metres(v)) }
	about := func(u quantity.Units, v float64) string { return u.AboutLength(quantity.Metres(v)) }
	return bounds{what, float64(least), float64(low), float64(high), float64(most), say, about, []float64{10, 1000, 100, 25.4, 12}}
}

func volumes(what string, least, low, high, most quantity.Litres) bounds {
	say := func(u quantity.Units, v float64) string { return sayVolume(u, quantity.Litres(v)) }
	about := func(u quantity.Units, v float64) string { return u.AboutVolume(quantity.Litres(v)) }
	return bounds{what, float64(least), float64(low), float64(high), float64(most), say, about, []float64{10, 1000, 3.785411784, 100}}
}

func flows(what string, least, low, high, most quantity.LitresPerHour) bounds {
	say := func(u quantity.Units, v float64) string { return u.Flow(quantity.LitresPerHour(v)) }
	about := func(u quantity.Units, v float64) string { return u.AboutFlow(quantity.LitresPerHour(v)) }
	return bounds{what, float64(least), float64(low), float64(high), float64(most), say, about, []float64{10, 60, 1000, 3.785411784}}
}

func spans(what string, least, low, high, most time.Duration) bounds {
	say := func(_ quantity.Units, v float64) string { return sayTime(time.Duration(v)) }
	return bounds{what, float64(least), float64(low), float64(high), float64(most), say, say, []float64{60, 10, 24, 1000, 3600}}
}

// shares are said in per cent and held as numbers from 0 to 1.
func shares(what string, least, low, high, most float64) bounds {
	say := func(_ quantity.Units, v float64) string { return quantity.In(quantity.Fraction(v), quantity.Percent) }
	return bounds{what, least, low, high, most, say, say, []float64{10, 100}}
}

func counts(what string, least, low, high, most float64) bounds {
	say := func(_ quantity.Units, v float64) string {
		return strings.TrimSpace(quantity.In(quantity.Litres(v), quantity.Unit[quantity.Litres]{Size: 1}))
	}
	return bounds{what, least, low, high, most, say, say, []float64{10, 100}}
}

func sayVolume(u quantity.Units, l quantity.Litres) string {
	if l < 0.1 {
		return u.Dose(l)
	}
	return u.Volume(l)
}

// sayTime prints days from 48 h on, as people say it.
func sayTime(d time.Duration) string {
	if d >= 2*quantity.Day && d%quantity.Day == 0 {
		return fmt.Sprintf("%d d", d/quantity.Day)
	}
	return quantity.Duration(d)
}

// holdsTo refuses what the number at path cannot be, and warns of what it is not
// as a rule. It passes over what the file does not say or what was refused.
func (r *reader) holdsTo(path string, v float64, b bounds) { r.holdsMeaning(path, v, b, b) }

// holdsMeaning does so where what else the file says narrows what was meant.
func (r *reader) holdsMeaning(path string, v float64, b, likely bounds) {
	switch {
	case v == 0 || !r.sound(path):
	case v < b.least || v > b.most:
		r.errorf(path, "%s: that cannot be %s, which is %s as a rule%s", b.say(r.units, v), b.what, b.rule(r.units), likely.meant(r.units, v))
	case v < b.low || v > b.high:
		r.oddf(path, "%s: %s is %s as a rule%s", b.say(r.units, v), b.what, b.rule(r.units), likely.meant(r.units, v))
	}
}

// rule is between what such numbers lie as a rule.
func (b bounds) rule(u quantity.Units) string { return b.about(u, b.low) + " to " + b.about(u, b.high) }

// meant asks for the numbers that v becomes without a usual slip, two at most.
// It is empty where no slip explains v.
func (b bounds) meant(u quantity.Units, v float64) string {
	var found []string
	for _, times := range b.slips {
		for _, slip := range [2]struct {
			v     float64
			which string
		}{{v / times, "large"}, {v * times, "small"}} {
			if slip.v >= b.low && slip.v <= b.high && len(found) < 2 {
				found = append(found, fmt.Sprintf("%s (this is %s times too %s)", b.say(u, slip.v), brief(times), slip.which))
			}
		}
	}
	if len(found) == 0 {
		return ""
	}
	return ": did you mean " + inWords(found, "or") + "?"
}

func brief(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

const (
	millimetre = quantity.Metres(0.001)
	metre      = quantity.Metres(1)
)

// What the numbers of a file can be.
var (
	tableLengths = lengths("the length of a table", 100*millimetre, 300*millimetre, 12*metre, 40*metre)
	tableWidths  = lengths("the width of a table", 100*millimetre, 200*millimetre, 4*metre, 12*metre)
	rims         = lengths("the height of a rim", 8*millimetre, 20*millimetre, 300*millimetre, metre)
	crests       = lengths("the crest of a standpipe", 5*millimetre, 10*millimetre, 200*millimetre, 600*millimetre)
	standpipes   = lengths("the bore of a standpipe", 8*millimetre, 15*millimetre, 110*millimetre, 250*millimetre)
	hoses        = lengths("the bore of a hose", 4*millimetre, 8*millimetre, 63*millimetre, 160*millimetre)
	hoseLengths  = lengths("the length of a hose", 50*millimetre, 200*millimetre, 20*metre, 100*metre)
	lifts        = lengths("the lift from the reservoir to the table", 5*millimetre, 100*millimetre, 4*metre, 30*metre)
	insides      = lengths("the inside of a reservoir", 100*millimetre, 200*millimetre, 5*metre, 20*metre)
	heads        = lengths("the greatest head of such a pump", 200*millimetre, 500*millimetre, 12*metre, 60*metre)
	pumpFlows    = flows("the greatest flow of such a pump", 40, 100, 20000, 100000)
	drainBores   = lengths("the bore of a drain", 5*millimetre, 9*millimetre, 75*millimetre, 160*millimetre)
	drainLengths = lengths("the length of a drain", 10*millimetre, 30*millimetre, 10*metre, 50*metre)

	tanks = volumes("what a reservoir holds", 2, 10, 5000, 50000)
	keeps = volumes("what covers an intake", 0.2, 0.5, 500, 10000)

	fills  = spans("the time to fill", time.Second, 30*time.Second, 40*time.Minute, 2*time.Hour)
	falls  = spans("the time until FULL is dry", time.Second, 5*time.Second, 30*time.Minute, 2*time.Hour)
	drains = spans("the time to drain", time.Second, time.Minute, time.Hour, 4*time.Hour)

	holds     = spans("the hold of a flood", time.Second, time.Minute, 30*time.Minute, 3*time.Hour)
	waits     = spans("the time that plants in pots can wait for water", time.Minute, 6*time.Hour, 7*quantity.Day, 30*quantity.Day)
	strengths = shares("the strength of a solution", 0.001, 0.1, 1, 1)
	ages      = counts("the day on which a stage begins", 1, 1, 200, longest)
	stirs     = spans("the stirring before a flood", 10*time.Second, time.Minute, 45*time.Minute, 3*time.Hour)
	sounds    = spans("the warning before a start", time.Second, 2*time.Second, 2*time.Minute, 15*time.Minute)
	fluxes    = counts("the light of lamps at the leaves in umol/m2s", 5, 30, 1200, 3000)

	potTops    = lengths("the rim of a pot", 8*millimetre, 15*millimetre, 300*millimetre, 800*millimetre)
	potVolumes = volumes("what a pot holds", 0.002, 0.005, 15, 80)
	potShapes  = counts("the height of a pot over the diameter of its rim", 0.2, 0.35, 3, 6)
	coverDays  = counts("the day on which leaves cover the bench", 2, 7, 150, longest)
	widths     = lengths("the width of one plant", 10*millimetre, 20*millimetre, metre, 5*metre)
)

// checkBounds holds every number of the file to what it can be, before anything
// is worked out from it: so the blame falls on the number that is odd, and not
// on what it leads to.
func (r *reader) checkBounds(s *Site) {
	for _, n := range r.numbers {
		if !strings.HasSuffix(n.path, ".pot.volume") { // of which the rim says more
			r.holdsTo(n.path, n.v, n.key.Usual)
		}
	}
	for i := range s.Reservoirs {
		r.keptShare(&s.Reservoirs[i])
		r.insideBounds(&s.Reservoirs[i])
	}
	for i := range s.Benches {
		r.pumpBounds(&s.Benches[i])
	}
	for i := range s.Batches {
		r.potBounds(i, &s.Batches[i])
	}
}

// fastest is the speed in a hose, in m/s, above which it only wears the pump
// and makes noise: two to three times what is laid out for (common practice, no
// source).
const fastest = 8

// pumpBounds holds the label of a pump to its hose, and a flow that was
// measured to the label, a tenth over: no pump brings more than it does without
// any head.
func (r *reader) pumpBounds(b *Bench) {
	if !r.sound(b.path(".supply")) || b.Supply.Bore <= 0 {
		return
	}
	bore, most, flow := float64(b.Supply.Bore), b.Supply.MaxFlow, b.path(".supply.max_flow")
	if len(b.Supply.Curve) > 0 {
		flow = b.path(".supply.curve")
		r.holdsTo(flow, float64(b.Supply.MaxHead), heads)
		r.holdsTo(flow, float64(most), pumpFlows)
	}
	at := func(speed float64) quantity.LitresPerHour {
		return quantity.LitresPerHour(speed * math.Pi / 4 * bore * bore * 1000 * 3600)
	}
	if limit := at(fastest); most > limit {
		r.oddf(flow, "%s: that is more than a hose of %s carries%s", r.units.Flow(most), r.units.Mark(b.Supply.Bore),
			flows("", 0, at(0.2), limit, limit).meant(r.units, float64(most)))
	}
	f := b.Cycle.Flow
	text := fmt.Sprintf("%s: the label of the pump promises no more than %s%s", r.units.Flow(f), r.units.Flow(most), flows("", 0, most/10, most, most).meant(r.units, float64(f)))
	switch {
	case !r.sound(b.path(".cycle")):
	case f > 2*most:
		r.errorf(b.path(".cycle.flow"), "%s", then(text, "Measure it again, or put max_flow right"))
	case float64(f) > 1.1*float64(most):
		r.oddf(b.path(".cycle.flow"), "%s", text)
	}
}

// How deep the water of a full reservoir is, by its litres and its inside (common
// practice, no source).
var depths = lengths("the depth of a full reservoir", 20*millimetre, 80*millimetre, 2*metre, 10*metre)

func (r *reader) insideBounds(res *Reservoir) {
	area := res.Inside.Area()
	if area == 0 || !r.sound(res.path("")) || slices.ContainsFunc(r.odd, func(odd string) bool { return strings.HasPrefix(odd, res.path(".")) }) {
		return
	}
	depth := quantity.Metres(float64(res.Usable) / 1000 / float64(area))
	said := fmt.Sprintf("%s would stand %s deep in it, and %s to %s is usual: look at usable and at inside", r.units.Volume(res.Usable), r.units.Head(depth), depths.about(r.units, depths.low), depths.about(r.units, depths.high))
	switch d := float64(depth); {
	case d < depths.least || d > depths.most:
		r.errorf(res.path(".inside"), "%s", said)
	case d < depths.low || d > depths.high:
		r.oddf(res.path(".inside"), "%s", said)
	}
}

// Shares of a reservoir that may be kept.
const (
	keptAtLeast = 0.02
	keptAtMost  = 0.5
)

// keptShare doubts a reservoir that keeps next to nothing, or most of its water.
func (r *reader) keptShare(res *Reservoir) {
	kept := float64(res.Keep / res.Usable)
	if !r.sound(res.path(".usable"), res.path(".keep")) || !(kept > 0 && kept < 1) {
		return
	}
	meant := volumes("", 0, res.Usable*keptAtLeast, res.Usable*keptAtMost, res.Usable).meant(r.units, float64(res.Keep))
	switch {
	case kept < keptAtLeast:
		r.oddf(res.path(".keep"), "%s: of %s that is little to cover an intake%s", sayVolume(r.units, res.Keep), r.units.Volume(res.Usable), meant)
	case kept > keptAtMost:
		r.oddf(res.path(".keep"), "%s: more than half of the %s is never drawn%s", sayVolume(r.units, res.Keep), r.units.Volume(res.Usable), meant)
	}
}

// potBounds holds the pots of a batch to what pots are. The height, which
// follows from the other two, tells of a slip in one of them that each alone
// would bear.
func (r *reader) potBounds(i int, b *Batch) {
	top, volume := batchPath(i, ".pot.top"), batchPath(i, ".pot.volume")
	r.holdsMeaning(volume, float64(b.Pots.Volume), potVolumes, volumesUnder(b.Pots))
	if !b.Pots.Known() || !r.sound(top, volume) {
		return
	}
	height := b.Pots.Height()
	shape := float64(height / b.Pots.Top)
	say := func(u quantity.Units, v float64) string { return u.Pot(b.Pots.Volume * quantity.Litres(v/shape)) }
	what := fmt.Sprintf("the volume of a pot of %s (it would be %s high)", r.units.Mark(b.Pots.Top), r.units.Depth(height))
	r.holdsTo(volume, shape, bounds{what, potShapes.least, potShapes.low, potShapes.high, potShapes.most, say, say, []float64{10, 100, 1000}})
}

// volumesUnder are those that pots of such a rim have.
func volumesUnder(p sheet.Pots) bounds {
	likely := potVolumes
	if top := float64(p.Top); p.Volume > 0 && top >= potTops.low && top <= potTops.high {
		one := float64(p.Volume) / float64(p.Height()/p.Top) // as high as its rim is wide
		likely.low, likely.high = one*potShapes.low, one*potShapes.high
	}
	return likely
}
