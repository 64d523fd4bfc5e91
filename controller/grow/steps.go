package grow

import (
	"fmt"
	"math"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Step is a part of the way of a batch from seed to hand-over.
type Step struct {
	Kind     StepKind
	From, To schedule.Date // about; the same where it is a day
	Asks     string        // of the person who grows it
}

// StepKind is what a step is.
type StepKind string

// The steps that have a date before a person writes one down.
const (
	Emerge StepKind = "up"
	Thin   StepKind = "thin"
	Harden StepKind = "harden off"
	HandOn StepKind = "fit to go"
)

// way is what is known of a crop from seed to hand-over; the sources of its numbers
// are in testdata/published/plants-steps.csv.
type way struct {
	base        demand.Celsius // below which no seed comes up
	sum         float64        // °C·days above it until it is up
	least, most demand.Celsius // at which seed is best kept
	weeks       [2]int         // from sowing until it can go, the least and the most
}

// ways are those of the crops that a source knows. That of basil is common practice,
// no source.
var ways = map[string]way{
	"basil":        {11, 70, 20, 25, [2]int{6, 8}},
	"broccoli":     {5, 97, 16, 29, [2]int{4, 7}},
	"cucumber":     {10.4, 59, 18, 35, [2]int{2, 4}},
	"lettuce":      {2.8, 47, 16, 24, [2]int{4, 6}},
	"sweet_pepper": {10.5, 118, 18, 24, [2]int{7, 9}},
	"tomato":       {7.5, 103, 18, 29, [2]int{5, 6}},
}

// linear is up to which warmth seed comes up the faster the warmer it is, by ways.
const linear demand.Celsius = 25

// In days; the first two are common practice, no source. Hardening takes one to two
// weeks (University of Maryland Extension), and crops that cold hurts take the longer
// (California Master Gardener Handbook: two weeks at least).
const (
	longest         = 60 // after which no seed is waited for
	firstTrueLeaf   = 7  // from emergence until seedlings are thinned
	hardening       = 7
	hardeningTender = 14
)

// From how warm on plants may be hardened outdoors (University of Maryland Extension).
const (
	outByDay     demand.Celsius = 7
	outOvernight demand.Celsius = 10
)

// emerges is how many days seed takes at a steady temperature; infinite where it
// never comes up.
func (w way) emerges(t demand.Celsius) float64 {
	warm := float64(min(t, linear) - w.base)
	if warm <= 0 {
		return math.Inf(1)
	}
	return w.sum / warm
}

// Steps are the steps of a batch whose day of sowing and crop are known, in order.
// Where seed came up that was not sown on the bench nobody can say.
func (s *Site) Steps(batch int) (all []Step) {
	b := &s.Batches[batch]
	w, known := ways[b.Grows]
	if !known || b.Sown == 0 {
		return nil
	}
	if b.Sown == b.Transplanted {
		all = s.germinates(w, b.Sown)
	}
	fit := Step{HandOn, b.Sown.AddDays(7 * w.weeks[0]), b.Sown.AddDays(7 * w.weeks[1]), "flood a few hours before, so that pots travel moist; write down how many went"}
	return append(all, s.harden(b.Grows, fit.From), fit)
}

// germinates are the steps of seed in the pots that it was sown in.
func (s *Site) germinates(w way, sown schedule.Date) []Step {
	kept := fmt.Sprintf("%s to %s", s.celsius(w.least), s.celsius(w.most))
	up, comes := s.emergence(w, sown)
	if !comes {
		return []Step{{Emerge, sown, sown.AddDays(longest), "it is too cold for that where it stands: keep the seed at " + kept}}
	}
	thin := up.AddDays(firstTrueLeaf)
	return []Step{
		{Emerge, up, up, "until then " + kept + ", never dry, plain water; then light at once, and write down how many are up"},
		{Thin, thin, thin, "one to a pot, the strongest; write down how many were taken out"},
	}
}

// harden is the hardening of a crop that ends on a date.
func (s *Site) harden(crop string, until schedule.Date) Step {
	days, night := hardening, outOvernight
	if cold := WarmthOf(crop).Cold; cold > 0 {
		days, night = hardeningTender, max(outOvernight, cold)
	}
	return Step{Harden, until.AddDays(-days), until, fmt.Sprintf("cooler, flooded less often but never to wilting, weak solution; outdoors from %s by day, shade first, over night from %s", s.celsius(outByDay), s.celsius(night))}
}

// emergence is the day on which seed of a sowing is up; false where none is in time.
func (s *Site) emergence(w way, sown schedule.Date) (schedule.Date, bool) {
	share := 0.0
	for d := sown; d < sown.AddDays(longest); d++ {
		if share >= 1 {
			return d, true
		}
		share += 1 / w.emerges(s.Line(d.Month()).Middle())
	}
	return 0, false
}

// String says it in a line.
func (p Step) String() string {
	when := p.From.String()
	if p.To != p.From {
		when += " to " + p.To.String()
	}
	return fmt.Sprintf("%s, about %s: %s", p.Kind, when, p.Asks)
}
