package controller

import (
	"slices"

	"benchtide/safety"
)

// usual is what the pairs of weighings of a bench that end with a fill of some bench
// show as a rule. Each bench weighs with an error of its own, so that pairs of
// different benches differ.
type usual struct {
	Bench string        `json:"bench"` // whose fill ends the pair
	Pairs int           `json:"pairs"` // up to usualMost
	Over  safety.Litres `json:"over"`  // more than the plants can have drunk; below 0 as a rule
}

// Judgement, no source: a new pair counts for as much as usualMost of them, what
// is usual is taken to be nothing until usualLeast pairs say otherwise, and a pair
// that stands out moves it by a part of the margin at the most.
const (
	usualMost  = 7
	usualLeast = 2
	usualUp    = 0.5
	usualDown  = 1
)

// overUsual is how much more a pair of bench b shows than such pairs usually do.
func (c *Controller) overUsual(b, by int, over safety.Litres) safety.Litres {
	for _, u := range c.benches[b].usual {
		if u.Bench == c.name(by) {
			return over - u.Over*safety.Litres(u.Pairs)/safety.Litres(u.Pairs+usualLeast)
		}
	}
	return over
}

// learn takes a pair of bench b into what is usual. What is stored keeps the slice
// that it was given.
func (c *Controller) learn(b, by int, over, margin safety.Litres) {
	s := &c.benches[b]
	s.usual = slices.Clone(s.usual)
	i := slices.IndexFunc(s.usual, func(u usual) bool { return u.Bench == c.name(by) })
	if i < 0 {
		s.usual = append(s.usual, usual{Bench: c.name(by), Pairs: 1, Over: max(over, -usualDown*margin)})
		return
	}
	u := &s.usual[i]
	u.Pairs = min(u.Pairs+1, usualMost)
	out := max(-usualDown*margin, min(over-u.Over, usualUp*margin))
	u.Over += out / safety.Litres(u.Pairs)
}
