package grow

import (
	"fmt"
	"math"
	"strings"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// fedLess is how many days' feed plants can do without and grow on with what they have
// (judgement, no source).
const fedLess = 5

// Cost is what a bench that gives all its batches the weakest solution of their stages
// costs one of them.
type Cost struct {
	Batch        int
	Days         int           // on which it gets less than its stage asks
	Least, Asked float64       // strengths: the least of what it gets, and the most of what its stages ask
	Feed         float64       // days' feed that it goes without: what lacks of each day, added up
	Litres       demand.Litres // that its plants use on those days, by normal ones: what feeding by hand comes to
}

// Costs is what a conflict over strength costs each batch that gets too little.
func (s *Site) Costs(c schedule.Conflict) (all []Cost, err error) {
	for _, i := range c.Batches {
		b := &s.Batches[i]
		k := Cost{Batch: i, Least: math.Inf(1)}
		for d := c.From; d <= c.To; d++ {
			own, ok := b.StageOn(s.Plans[b.Plan], d)
			given, placed := s.Calendar.Governs(c.Bench, d)
			if !ok || !placed || given.Strength >= s.Plans[b.Plan].Stages[own].Strength {
				continue
			}
			w, err := s.Weather(d, Normal)
			if err != nil {
				return nil, fmt.Errorf("cost for %s: %w", b.Name, err)
			}
			asked := s.Plans[b.Plan].Stages[own].Strength
			k.Days++
			k.Least, k.Asked = min(k.Least, given.Strength), max(k.Asked, asked)
			k.Feed += 1 - given.Strength/asked
			k.Litres += demand.Litres(b.Demand.Pots) * b.Demand.Wants(b.age(d), w)
		}
		if k.Days > 0 {
			all = append(all, k)
		}
	}
	return all, nil
}

// Choices says what a person can do about a conflict between batches of one
// bench, the best first.
func (s *Site) Choices(c schedule.Conflict) string {
	eldest, youngest := s.called(c.Batches, 1), s.called(c.Batches, -1)
	switch c.Kind {
	case schedule.StrengthConflict:
		return s.feeding(c, youngest)
	case schedule.HoldConflict:
		return fmt.Sprintf("leave it, and see whether the pots of %s are wet through after a flood; or move %s to a bench of its own", eldest, youngest)
	}
	if c.Change {
		return fmt.Sprintf("let the next stage flood earlier, or the one before later, or allow %s a longer wait if its pots show that it stands it", eldest)
	}
	return fmt.Sprintf("flood more often, or allow %s a longer wait if its pots show that it stands it", eldest)
}

// feeding ranks what can be done for batches that get too weak a solution: what they can
// do without is left; else another bench, where the site has a second reservoir, comes
// before work by hand.
func (s *Site) feeding(c schedule.Conflict, youngest string) string {
	costs, err := s.Costs(c)
	if err != nil {
		costs = nil // a climate of which no day can be made is told of elsewhere
	}
	var lacks, hands []string
	var most float64
	for _, k := range costs {
		name := texts.Listed(s.Batches[k.Batch].Name, s.Called.Batches)
		feed := "less than one"
		if n := int(math.Round(k.Feed)); n > 0 {
			feed = counted(n, "day")
		}
		lacks = append(lacks, fmt.Sprintf("%s goes without the feed of %s in %s", name, feed, counted(k.Days, "day")))
		hands = append(hands, fmt.Sprintf("%s by hand, about %s in all", name, s.Units.Reckoned(quantity.Litres(k.Litres))))
		most = max(most, k.Feed)
	}
	leave := fmt.Sprintf("leave it until %s: %s", c.To, strings.Join(append(lacks, "a weaker feed harms no roots"), ", "))
	move, hand := "move "+youngest+" to a bench with a reservoir of its own", "feed "+strings.Join(hands, " and ")
	switch {
	case len(costs) == 0:
		return leave + "; or " + move
	case most <= fedLess:
		return leave + "; or " + hand + "; or " + move
	case s.Reservoirs > 1:
		return move + "; or " + hand + "; or " + leave
	}
	return hand + "; or " + move + "; or " + leave
}

// called names the batch that came first of some, or last where way is below 0.
func (s *Site) called(batches []int, way int) string {
	found := batches[0]
	for _, i := range batches {
		if way*int(s.Batches[i].Transplanted-s.Batches[found].Transplanted) < 0 {
			found = i
		}
	}
	return texts.Listed(s.Batches[found].Name, s.Called.Batches)
}
