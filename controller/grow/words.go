package grow

import (
	"fmt"
	"math"

	"benchtide/controller/texts"
	"benchtide/schedule"
)

var numbers = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

func floods(n int) string { return counted(n, "flood") }

// counted is so many of a thing, in words up to twelve.
func counted(n int, of string) string {
	word := fmt.Sprint(n)
	if n < len(numbers) {
		word = numbers[n]
	}
	if n != 1 {
		of += "s"
	}
	return word + " " + of
}

func (s *Site) words(b *Batch, a *Advice) string {
	limit := math.Round(100 * float64(b.Demand.Pot.Threshold()/b.Demand.Pot.Holds()))
	switch a.Verdict {
	case Fits:
		if a.Stage.Every > 1 {
			return fmt.Sprintf("from day %d %s %s: fits", a.Age, floods(a.Planned), schedule.Days(a.Stage.Every))
		}
		return fmt.Sprintf("from day %d %s a day: fits", a.Age, floods(a.Planned))
	case Often:
		if a.Every > 1 {
			return fmt.Sprintf("from day %d one flood, %s: that keeps the pots above %.0f %% on the hottest days, and with %s a day, as planned, roots stay wet for longer than they need",
				a.Age, schedule.Describe(a.Stage), limit, floods(a.Planned))
		}
		return fmt.Sprintf("from day %d %s, %s: %s are planned, and fewer keep the pots above %.0f %% on the hottest days",
			a.Age, floods(a.Needed), schedule.Describe(a.Stage), floods(a.Planned), limit)
	case Unplaced:
		return fmt.Sprintf("from day %d %s, %s: the batch stands on its bench and no flood is planned for it. Has it gone? Then close it",
			a.Age, floods(a.Needed), schedule.Describe(a.Stage))
	case Uneven:
		return fmt.Sprintf("from day %d %s, %s: those planned are too far apart or too short, and on the hottest days pots fall below %.0f %%",
			a.Age, floods(a.Needed), schedule.Describe(a.Stage), limit)
	case Beyond:
		return fmt.Sprintf("from day %d no number of floods keeps the pots above %.0f %% on the hottest days: larger pots, more room or shade",
			a.Age, limit)
	}
	return fmt.Sprintf("from day %d %s, %s: with %s planned, pots fall below %.0f %% on the hottest days",
		a.Age, floods(a.Needed), schedule.Describe(a.Stage), floods(a.Planned), limit)
}

// fedLess is for how many days plants grow on what they have when their feed is weaker
// than their stage asks (judgement, no source).
const fedLess = 5

// Choices says what a person can do about a conflict between batches of one
// bench.
func (s *Site) Choices(c schedule.Conflict) string {
	var youngest, eldest *Batch
	for _, i := range c.Batches {
		b := &s.Batches[i]
		if youngest == nil || b.Transplanted > youngest.Transplanted {
			youngest = b
		}
		if eldest == nil || b.Transplanted < eldest.Transplanted {
			eldest = b
		}
	}
	old, young := texts.Listed(eldest.Name, s.Called.Batches), texts.Listed(youngest.Name, s.Called.Batches)
	switch c.Kind {
	case schedule.StrengthConflict:
		leave := fmt.Sprintf("leave it, as a weaker feed harms no roots and it lasts until %s", c.To)
		if days := int(c.To-c.From) + 1; days > fedLess {
			leave = fmt.Sprintf("leave it, and %s is fed too little for %d days, until %s", old, days, c.To)
		}
		return fmt.Sprintf("%s; or move %s to a bench of its own; or feed %s by hand", leave, young, old)
	case schedule.HoldConflict:
		return fmt.Sprintf("leave it, and see whether the pots of %s are wet through after a flood; or move %s to a bench of its own", old, young)
	}
	if c.Change {
		return fmt.Sprintf("let the next stage flood earlier, or the one before later, or allow %s a longer wait if its pots show that it stands it", old)
	}
	return fmt.Sprintf("flood more often, or allow %s a longer wait if its pots show that it stands it", old)
}
