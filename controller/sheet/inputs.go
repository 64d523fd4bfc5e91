package sheet

import (
	"fmt"
	"math"
	"strings"
)

// input is something of a bench that its file cannot tell to the last digit: a number
// beside the one that the sheet reckons with, from low to high. It lies anywhere there
// (a rectangular distribution, JCGM 100:2008 4.3.7: of what is between nothing is
// known), or is a sum of parts that seldom all err one way (a triangular one, 4.3.9).
type input struct {
	of        string
	low, high float64
	parts     bool    // a sum of parts
	reckoned  float64 // what the sheet reckons with; of what changes with each flood, the middle
	changes   bool    // from one flood of a bench to the next; else it stays, and a flood that was timed has it in it
	source    string
}

// The indices of inputs.
const (
	headOfPump = iota
	straightness
	overCrest
	fittings
	wall
	tape
	inside
	madeAt
	clearsBelow
	crestAt
	area
	wet
	idle
	mouth
	film
	level
	thirst
	taken
	soon
	scatter
	marks
	stands
	late
	watch
	flowOfPump
	ofInputs
)

// inputs are all of them. None is taken from a simulated bench.
var inputs = [ofInputs]input{
	headOfPump:   {of: "head of the pump at each flow, times", low: 0.90, high: 1.10, reckoned: 1, source: "small pumps made in series: ISO 9906:2012 allows ±10 % of flow and ±8 % of head (numbers from memory)"},
	straightness: {of: "curve of a pump known by its label, from quadratic (0) to straight (1)", low: 0, high: 1, source: "quadratic: EPANET 2 Users Manual, pump curve of one point; straight: pumps with loose rotors, no source"},
	overCrest:    {of: "flow over the standpipe, times", low: 0.7, high: 1.3, reckoned: 1, source: "weir law below the heads it was tested at; EN 12056-3:2000 lets 27 % less over (from memory)"},
	fittings:     {of: "minor losses of the hose, sum of K", low: 1.3, high: 5, parts: true, reckoned: 3, source: "entrance 0.04 to 1, one or two bends of 0.3 to 1.5, exit 1: Munson et al., Table 8.2, and handbooks"},
	wall:         {of: "friction of the hose, times", low: 0.8, high: 1.3, parts: true, reckoned: 1, source: "bore ±4 % (ISO 1307, from memory), 12 to 26 °C (viscosity, IAPWS)"},
	tape:         {of: "lift, m", low: -0.02, high: 0.02, source: "a tape held between water and table; common practice, no source"},
	inside:       {of: "depth of a reservoir whose inside is not given, m", low: 0.25, high: 0.6, reckoned: float64(AssumedDepth), source: "common practice, no source"},
	madeAt:       {of: "height at which FULL is made, m", low: -0.0032, high: 0.0032, parts: true, source: "a maker's page of small reed floats: ±1/8 in"},
	clearsBelow:  {of: "how far below that it clears, m", low: 0.002, high: 0.008, reckoned: 0, source: "small reed floats, from memory"},
	crestAt:      {of: "height of the crest over the middle of the table, m", low: -0.002, high: 0.002, source: "set by hand on a table a little out of level; common practice, no source"},
	area:         {of: "area of the table, times", low: 0.92, high: 1.02, reckoned: 1, source: "measured outside, with ribs and round corners inside; common practice, no source"},
	wet:          {of: "what the pots displace, times", low: 0.85, high: 1.15, reckoned: 1, source: "pots between straight and tapered by 0.6; common practice, no source"},
	idle:         {of: "resistance of the idle pump, times that of its curve", low: 0.75, high: 2.5, reckoned: 1.5, source: "a wheel driven backwards; an assumption, no source"},
	mouth:        {of: "flow through the drain, times", low: 0.7, high: 1.3, parts: true, reckoned: 1, source: "its mouth is the standpipe's weir, its bends are not in the file"},
	film:         {of: "depth at which people call a table bare, m", low: 0.0005, high: 0.002, reckoned: float64(bare), changes: true, source: "a film that drips; common practice, no source"},
	level:        {of: "how far the reservoir stands below its mark, share of what it holds", low: 0, high: 0.2, reckoned: 0.1, changes: true, source: "topped up daily; common practice, no source"},
	thirst:       {of: "how dry the pots are, share of the driest", low: 0, high: 1, reckoned: 0.5, changes: true, source: "from pots that are still wet to those as dry as they may get; no source"},
	taken:        {of: "what they take of that in one flood, share", low: 0.2, high: 1, reckoned: 0.5, changes: true, source: "pots of 15 cm in saucers need 45 min (Univ. of Massachusetts trial); floods last ten"},
	soon:         {of: "of that while the table fills, share", low: 0, high: 0.5, reckoned: 0.25, changes: true, source: "substrates drink for minutes; common practice, no source"},
	late:         {of: "of that while the water falls to FULL, share", low: 0, high: 0.3, reckoned: 0, changes: true, source: "as above; pots that are timed flood after flood are wet and drink nothing then"},
	scatter:      {of: "a time beside that of another flood, times", low: 0.965, high: 1.035, parts: true, reckoned: 1, changes: true, source: "waves, air, a thumb on a watch; common practice, no source"},
	marks:        {of: "litres by the marks of a tank, times", low: 0.97, high: 1.03, reckoned: 1, source: "measured with a rule or filled with pails; common practice, no source"},
	stands:       {of: "height at which a flood was measured to stand, m", low: -0.001, high: 0.001, reckoned: 0, source: "a rule in water; common practice, no source"},
	watch:        {of: "a time by a stop watch, s", low: -0.6, high: 0.6, parts: true, reckoned: 0, source: "a thumb at its start and one at its end, half a second each, in the mean of three; common practice, no source"},
	flowOfPump:   {of: "flow of the pump at no head, times", low: 0.9, high: 1.1, parts: true, reckoned: 1, source: "as its head; what is at fault with a wheel or a motor moves both"},
}

// Inputs tells for people what each span comes from.
func Inputs() string {
	var b strings.Builder
	for _, in := range inputs {
		kind := "stays with a bench"
		if in.changes {
			kind = "changes with each flood"
		}
		fmt.Fprintf(&b, "%s: %g to %g; %s\n    %s\n", in.of, in.low, in.high, kind, in.source)
	}
	return b.String()
}

// draw is a value of each input.
type draw [ofInputs]float64

// draws is how many benches a span is taken from.
const draws = 160

// drawn are draws of which each input is spread evenly over its range, whatever the
// others are: the multiples of the roots of the first primes, one an input, without
// their whole part. They are always the same.
//
// Source: R. D. Richtmyer's sequence, from memory; H. Niederreiter, Random Number
// Generation and Quasi-Monte Carlo Methods, 1992.
var drawn = func() (all [draws]draw) {
	primes := [ofInputs]float64{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89, 101}
	for i, in := range inputs {
		for d := range all {
			_, place := math.Modf((float64(d) + 0.5) * math.Sqrt(primes[i]))
			all[d][i] = in.low + (in.high-in.low)*in.placed(place)
		}
	}
	return all
}()

// placed is where a share of all lies below, of the way from low to high.
func (in *input) placed(share float64) float64 {
	switch {
	case !in.parts:
		return share
	case share < 0.5:
		return math.Sqrt(share / 2)
	}
	return 1 - math.Sqrt((1-share)/2)
}

// uncertainty is the standard uncertainty of in (JCGM 100:2008, equations 7 and 9b).
func (in *input) uncertainty() float64 {
	half := (in.high - in.low) / 2
	if in.parts {
		return half / math.Sqrt(6)
	}
	return evens(half)
}

// reckoned is the draw in which every input is what the sheet reckons with.
var reckoned = func() (d draw) {
	for i, in := range inputs {
		d[i] = in.reckoned
	}
	return d
}()

// asTimed is the draw of a bench when it is timed: from the mark, flood after flood, so
// that its pots are wet.
var asTimed = func() draw {
	d := reckoned
	d[level], d[thirst] = 0.05, 0
	return d
}()

// passing is d in nothing but what changes from flood to flood.
func (d draw) passing() draw {
	of := reckoned
	for i, in := range inputs {
		if in.changes {
			of[i] = d[i]
		}
	}
	return of
}
