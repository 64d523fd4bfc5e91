package solution

import (
	"fmt"

	"benchtide/controller/quantity"
)

// between refuses what is outside [low, high], and NaN.
func between[Q ~float64](what string, value Q, low, high float64, unit string) error {
	if v := float64(value); v >= low && v <= high {
		return nil
	}
	return fmt.Errorf("%s of %.4g %s cannot be right: it lies between %.4g and %.4g %s", what, float64(value), unit, low, high, unit)
}

// above refuses 0 and less, what is above high, and NaN.
func above[Q ~float64](what string, value Q, high float64, unit string) error {
	if v := float64(value); v > 0 && v <= high {
		return nil
	}
	return fmt.Errorf("%s of %.4g %s cannot be right: it is above 0 and at most %.4g %s", what, float64(value), unit, high, unit)
}

// What a tank, a solution and a concentrate can be: a solution of seawater's
// EC is past anything that plants stand, and no salt in water conducts more
// than some hundred mS/cm.
const (
	largestTank = 100_000
	strongest   = 50
	densest     = 1000
)

func working(what string, e EC) error  { return between(what, e, 0, strongest, "mS/cm") }
func mixed(op string, err error) error { return fmt.Errorf("%s: %w", op, err) }

func tank(v quantity.Litres) error {
	if v > 0 && v <= largestTank {
		return nil
	}
	return quantity.Mistaken(func(u quantity.Units) string {
		return fmt.Sprintf("volume of %s cannot be right: it is above 0 and at most %s", u.Measured(v), u.Most(largestTank))
	})
}

// part is what can be of a tank.
func part(what string, v quantity.Litres) error {
	if v >= 0 && v <= largestTank {
		return nil
	}
	return quantity.Mistaken(func(u quantity.Units) string {
		return fmt.Sprintf("%s of %s cannot be right: it lies between %s", what, u.Measured(v), u.Volumes(0, "and", largestTank))
	})
}

func warmth(t quantity.Celsius) error { return warmthUpTo(t, 50) }

func warmthUpTo(t, most quantity.Celsius) error {
	if t >= 0 && t <= most {
		return nil
	}
	return quantity.Mistaken(func(u quantity.Units) string {
		return fmt.Sprintf("temperature of %s cannot be right: it lies between %s and %s", u.Temperature(t), u.Temperature(0), u.Temperature(most))
	})
}
