package score

import (
	"math"
	"slices"
)

// Stated is a figure as the program states it, with the span that nine in ten are to
// lie in. Where it states none, the span is a quarter either way.
type Stated struct {
	Value, Low, High float64
	Spanned          bool
}

// quarter is the span of a figure that is stated without one: what people would give
// or take (judgement, no source).
const quarter = 0.25

// bare is a figure without a span of its own.
func bare(value float64) Stated {
	return Stated{Value: value, Low: value * (1 - quarter), High: value * (1 + quarter)}
}

// Outcome is a figure of one bench and what was true of it, above 0.
type Outcome struct {
	Figure string
	Stated Stated
	Truth  float64
}

// nominal is how often the truth is to lie in a span.
const nominal = 0.9

// IntervalScore is what a span costs when y comes true, in the unit of y; lower is
// better. It is the width of the span, and 2/α times how far outside of it y lies for
// one that holds 1−α of them. Source: Gneiting and Raftery, Strictly proper scoring
// rules, J. Amer. Statist. Assoc. 102:359-378, 2007, section 6.2, equation 43.
func IntervalScore(low, high, y, alpha float64) float64 {
	return high - low + 2/alpha*(max(0, low-y)+max(0, y-high))
}

// Figure is how well one figure was stated. Bias, errors and scores are shares of the
// truth.
type Figure struct {
	Name        string  `json:"name"`
	Unit        string  `json:"unit"`
	N           int     `json:"n"`                         // benches on which it was stated and came true
	Bias        float64 `json:"bias"`                      // mean of stated less true
	MedianError float64 `json:"median_error"`              // of the absolute errors
	P95Error    float64 `json:"p95_error"`                 // what 19 in 20 of them stay below
	Coverage    float64 `json:"coverage_90"`               // share of truths in their span
	Score       float64 `json:"interval_score"`            // mean, of the span
	ByQuarter   float64 `json:"interval_score_by_quarter"` // the same of the figure give or take a quarter
	Spanned     bool    `json:"stated"`                    // the program states the span; else it is a quarter either way

	points []Outcome
}

// figureOf is what outcomes come to.
func figureOf(name, unit string, all []Outcome) Figure {
	f := Figure{Name: name, Unit: unit, N: len(all), points: all}
	var errors []float64
	for _, o := range all {
		s, n := o.Stated, float64(len(all))
		off, plain := (s.Value-o.Truth)/o.Truth, bare(s.Value)
		errors = append(errors, math.Abs(off))
		f.Bias += off / n
		f.Score += IntervalScore(s.Low, s.High, o.Truth, 1-nominal) / o.Truth / n
		f.ByQuarter += IntervalScore(plain.Low, plain.High, o.Truth, 1-nominal) / o.Truth / n
		if s.Low <= o.Truth && o.Truth <= s.High {
			f.Coverage += 1 / n
		}
		f.Spanned = s.Spanned
	}
	slices.Sort(errors)
	f.MedianError, f.P95Error = rank(errors, 0.5), rank(errors, 0.95)
	return f
}

// rank is the least of sorted values that a share of them does not exceed; 0 of none.
func rank(sorted []float64, share float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[max(0, int(math.Ceil(share*float64(len(sorted))))-1)]
}
