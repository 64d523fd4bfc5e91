package grow

import (
	"errors"
	"fmt"
	"math"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/solution"
	"benchtide/schedule/demand"
)

// Impossible refuses an entry that no reservoir, solution or pot can have, with
// the range.
func Impossible(e Entry, u quantity.Units) error {
	within := func(what string, low, high float64, unit string) error {
		if e.Value >= low && e.Value <= high {
			return nil
		}
		return fmt.Errorf("%s of %.4g %s cannot be right: it lies between %g and %g %s", what, e.Value, unit, low, high, unit)
	}
	switch e.Kind {
	case TopUp, TakenOut, SolutionChange:
		if e.Value >= 0 && e.Value <= mostVolume {
			return nil
		}
		return fmt.Errorf("a volume of %s cannot be right: it lies between %s", u.Volume(quantity.Litres(e.Value)), u.Volumes(0, "and", mostVolume))
	case EC:
		return within("EC", 0, 50, "mS/cm")
	case PH:
		return within("pH", 0, 14, "")
	case Temperature:
		if err := demand.Believe(demand.Celsius(e.Value)); err != nil {
			return errors.New(u.Told(err))
		}
		if e.Value >= coldest && e.Value <= hottest {
			return nil
		}
		return fmt.Errorf("the temperature of a solution of %s cannot be right: it lies between %s and %s",
			u.Temperature(quantity.Celsius(e.Value)), u.Temperature(coldest), u.Temperature(hottest))
	case Moisture:
		return within("moisture", 1, 5, "of 5")
	case Sown, Germinated, Resown, Thinned, Transplanted, Lost, MovedOut:
		if err := within("a count", 0, 1e6, "pots"); err != nil || e.Value == math.Trunc(e.Value) {
			return err
		}
		return fmt.Errorf("a count of %.4g: write a whole number", e.Value)
	}
	return nil
}

// The ends of what a solution can be.
const (
	mostVolume       = 100_000 // L
	coldest, hottest = -2, 50  // °C
)

// Doubts are questions to ask before an entry is kept, given those before it
// about the same reservoir or batch and what the reservoir holds. The entry is
// possible; a person may well say that it is right.
func Doubts(e Entry, before []Entry, holds demand.Litres, now time.Time, u quantity.Units) (questions []string) {
	said := func(l float64) string { return u.Volume(quantity.Litres(l)) }
	ask := func(format string, args ...any) { questions = append(questions, fmt.Sprintf(format, args...)) }
	if e.At.After(now.Add(time.Minute)) {
		ask("It is about a time to come. Is the date right?")
	}
	switch e.Kind {
	case TopUp, TakenOut, SolutionChange:
		if e.Value > float64(holds) {
			ask("%s are more than the %s that the reservoir holds. Is the unit right?", said(e.Value), said(float64(holds)))
		}
		if last, ok := newest(before, e.Kind); ok && last.Value == e.Value && e.At.Sub(last.At) < time.Hour {
			ask("The same %s were written down %s ago. Is this a second time?", said(e.Value), quantity.Duration(e.At.Sub(last.At).Round(time.Minute)))
		}
	case EC:
		doubtEC(e, before, holds, said, ask)
	case PH:
		if e.Value < 4.5 || e.Value > 8 {
			ask("pH %.3g is far from the 5.5 to 6.5 that plants in solution want. When was the meter calibrated?", e.Value)
		}
	case Temperature:
		if w, err := solution.WarmthOf(quantity.Celsius(e.Value)); err == nil && w != solution.Fine {
			ask("%s", w.Words(u))
		}
	case Germinated, Lost, MovedOut, Resown:
		if c := countOf(before); e.Value > float64(max(c.Left(), c.Sown)) {
			ask("%.0f pots are more than the %d that stand there. Is it the right batch?", e.Value, c.Left())
		}
	}
	if frozen(e, before) {
		ask("It is the same figure as the last %d times. Does the meter still read?", repeats)
	}
	return questions
}

// repeats is how many equal readings in a row make one ask (judgement, no source).
const repeats = 4

func frozen(e Entry, before []Entry) bool {
	if e.Kind != EC && e.Kind != PH && e.Kind != Temperature {
		return false
	}
	var values []float64
	for _, b := range inOrder(before, e.Kind) {
		values = append(values, b.Value)
	}
	values = append(values, e.Value)
	return demand.Frozen(values, repeats+1) < len(values)
}

// doubtEC holds a reading against the one before: without stock EC rises only
// as far as water left, and falls only where water came.
func doubtEC(e Entry, before []Entry, holds demand.Litres, said func(float64) string, ask func(string, ...any)) {
	if e.Value > 5 {
		ask("EC %.3g mS/cm burns most plants. Is it mS/cm, and not another scale?", e.Value)
	}
	last, ok := newest(before, EC)
	if !ok || last.Value == 0 {
		return
	}
	var added float64
	for _, t := range inOrder(before, TopUp, SolutionChange) {
		if t.At.Before(last.At) {
			continue
		}
		if t.Kind == SolutionChange {
			return
		}
		added += t.Value
	}
	change := e.Value/last.Value - 1
	switch {
	case added > 0 && change > 0.2:
		ask("EC rose %.0f %% and you added %s. Was it solution, and not water?", 100*change, said(added))
	case added == 0 && change > 0.2:
		lost := holds * demand.Litres(change/(1+change))
		ask("EC rose %.0f %%: without stock that takes %s of water gone. Is the reservoir so low?", 100*change, said(float64(lost)))
	case added == 0 && change < -0.2:
		ask("EC fell %.0f %% and no water was added by the diary. Is a top-up missing, or the meter off?", -100*change)
	case added > 0 && change < -0.2 && -change > 1.3*added/float64(holds): // filled to the mark, water takes away its own share
		ask("EC fell %.0f %%, and %s of water explain less. Is a top-up missing, or was more thrown away?", -100*change, said(added))
	}
}
