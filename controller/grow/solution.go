package grow

import (
	"fmt"
	"math"
	"slices"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/solution"
	"benchtide/schedule/demand"
)

// Solution is the state of a nutrient solution by its diary.
type Solution struct {
	Since    time.Time // of the last change; zero when none is written down
	Days     float64   // since then
	Added    demand.Litres
	Turnover float64     // Added as a share of what the reservoir holds
	EC       solution.EC // read last; 0 when never
	Drift    float64     // mS/cm a day since the change, from a straight line through the readings; 0 for fewer than two
	Reasons  []string    // to change it
}

// A solution is due for a change by its age, by the volume used or by EC out of
// line. Sources disagree on which of the three counts, so any of them does.
const (
	dueAfter = 14.0 // days; common practice, 5 to 7 for large plants
	dueUsed  = 1.0  // times what the reservoir holds was added (common practice, no source)
	dueOff   = 0.3  // share by which EC is off what was mixed (judgement, no source)
)

// Outlasts says in words that water for so many days outlasts the solution that it is;
// nothing where it does not.
func Outlasts(days float64) string {
	if days <= dueAfter {
		return ""
	}
	return fmt.Sprintf("longer than its solution, which is due for a change after %.0f days", dueAfter)
}

// SolutionOf works the state of a solution out from the diary of its reservoir.
func SolutionOf(entries []Entry, holds demand.Litres, now time.Time, u quantity.Units) Solution {
	var s Solution
	if change, ok := newest(entries, SolutionChange); ok {
		s.Since = change.At
	}
	since := slices.DeleteFunc(slices.Clone(entries), func(e Entry) bool { return e.At.Before(s.Since) })
	for _, e := range inOrder(since, TopUp) {
		s.Added += demand.Litres(e.Value)
	}
	s.Turnover = float64(s.Added / holds)
	readings := inOrder(since, EC)
	if len(readings) > 0 {
		s.EC = solution.EC(readings[len(readings)-1].Value)
	}
	s.Drift = slope(readings)
	if s.Since.IsZero() {
		s.Reasons = append(s.Reasons, "no change of the solution is written down")
	} else if s.Days = days(now.Sub(s.Since)); s.Days >= dueAfter {
		s.Reasons = append(s.Reasons, fmt.Sprintf("it is %.0f days old", s.Days))
	}
	if s.Turnover >= dueUsed {
		s.Reasons = append(s.Reasons, u.Volume(quantity.Litres(s.Added))+" were added since it was changed, as much as the reservoir holds")
	}
	if len(readings) == 0 || readings[0].At.Sub(s.Since) >= soonAfter {
		return s
	}
	if mixed := solution.EC(readings[0].Value); mixed > 0 && s.EC > 0 && math.Abs(float64(s.EC/mixed)-1) > dueOff {
		s.Reasons = append(s.Reasons, fmt.Sprintf("EC is %.2g mS/cm, and %.2g was read when it was new", s.EC, mixed))
	}
	return s
}

// soonAfter a change a reading tells the strength that the solution was mixed to
// (judgement, no source).
const soonAfter = 2 * day

// slope is that of the line of least squares through readings, a day.
func slope(readings []Entry) float64 {
	n := float64(len(readings))
	if n < 2 {
		return 0
	}
	var sx, sy, sxx, sxy float64
	for _, e := range readings {
		x := days(e.At.Sub(readings[0].At))
		sx, sy, sxx, sxy = sx+x, sy+e.Value, sxx+x*x, sxy+x*e.Value
	}
	if d := n*sxx - sx*sx; d > 0 {
		return (n*sxy - sx*sy) / d
	}
	return 0
}
