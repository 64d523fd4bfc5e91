package grow

import (
	"fmt"
	"math"

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
